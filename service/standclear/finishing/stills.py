"""A film as numbered pictures: the originals as they are, PNG, or TIFF in 16 bits.

Into a folder, or into one ZIP file (stored, pictures do not shrink) when the target's name ends
in ``.zip``.
"""

import zipfile
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Protocol

import cv2
import numpy as np
import tifffile

from standclear.finishing.develop import Pixels
from standclear.finishing.problems import CannotExport


class Tray(Protocol):
    """Takes numbered pictures."""

    def lay(self, name: str, data: bytes) -> None:
        """Keep ``data`` under ``name``."""
        ...

    def close(self) -> None:
        """Nothing follows."""
        ...


class FolderTray:
    """Pictures as files of one folder."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir()
        self._folder = folder

    def lay(self, name: str, data: bytes) -> None:
        """Write a file."""
        (self._folder / name).write_bytes(data)

    def close(self) -> None:
        """Nothing to do."""


class ZipTray:
    """Pictures as members of one ZIP file, with one fixed date so that equal films are equal."""

    def __init__(self, path: Path) -> None:
        self._zip = zipfile.ZipFile(path, "w", zipfile.ZIP_STORED)

    def lay(self, name: str, data: bytes) -> None:
        """Add a member."""
        self._zip.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), data)

    def close(self) -> None:
        """Write the table of contents."""
        self._zip.close()


def tray_for(draft: Path, target: Path) -> Tray:
    """A tray at ``draft`` of the kind that the final name asks for."""
    return ZipTray(draft) if target.suffix.lower() == ".zip" else FolderTray(draft)


def png(picture: Pixels) -> bytes:
    """A picture, (height, width, 3), blue first, as PNG (ISO/IEC 15948)."""
    done, data = cv2.imencode(".png", picture)
    if not done:
        raise CannotExport("A picture could not be written as PNG.")
    return data.tobytes()


def tiff(picture: Pixels) -> bytes:
    """A picture as TIFF 6.0, 16 bits for each of red, green, blue, deflated without loss."""
    if picture.dtype != np.uint16:
        raise CannotExport("A 16-bit TIFF needs a 16-bit picture.")
    data = BytesIO()
    tifffile.imwrite(
        data, picture[:, :, ::-1], photometric="rgb", compression="zlib", predictor=True
    )
    return data.getvalue()


def numbered(stem: str, frame: int, extension: str) -> str:
    """``cork-wakes_000012.png`` for film frame 12 (from 1)."""
    return f"{stem}_{frame:06d}{extension}"


def lay_run(tray: Tray, data: bytes, start: int, frames: int, name: Callable[[int], str]) -> None:
    """The same picture for each frame of a run; ``start`` from 0."""
    for frame in range(start + 1, start + frames + 1):
        tray.lay(name(frame), data)
