"""Previews: small JPEGs of the originals, made once, thrown away at will.

A preview is shown as the camera held it: an Exif orientation is not applied, since on a tripod it
tells only what the camera's sensor believed when the shot began, and may change between frames.
"""

import threading
from collections.abc import Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from standclear.imaging.limits import MOST_PIXELS, too_large
from standclear.library import values
from standclear.library.disk import Disk
from standclear.library.embedded import largest_jpeg
from standclear.library.failures import NoPreview, told_as_storage
from standclear.library.records import OriginalFile

WIDTHS = (160, 320, 640, 960, 1280, 1920, 2560)
QUALITY = 85
_DECODERS_AT_ONCE = 2
_AS_STORED = cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION
_REDUCED = (
    (8, cv2.IMREAD_REDUCED_COLOR_8 | cv2.IMREAD_IGNORE_ORIENTATION),
    (4, cv2.IMREAD_REDUCED_COLOR_4 | cv2.IMREAD_IGNORE_ORIENTATION),
    (2, cv2.IMREAD_REDUCED_COLOR_2 | cv2.IMREAD_IGNORE_ORIENTATION),
)


def snap(width: int) -> int:
    """The next width of the ladder, upwards; the widest for anything beyond it."""
    if not 1 <= width <= 100_000:
        raise values.refuse("width", "A preview's width is 1 to 100,000 pixels.")
    return next((step for step in WIDTHS if step >= width), WIDTHS[-1])


class Previews:
    """The cache under ``<library>/previews``; many may ask for one, it is made once."""

    def __init__(self, folder: Path, disk: Disk) -> None:
        self._folder = folder
        self._disk = disk
        self._guard = threading.Lock()
        self._making: dict[Path, Future[None]] = {}
        self._decoders = threading.BoundedSemaphore(_DECODERS_AT_ONCE)

    def preview(
        self, exposure_id: str, index: int, original: Path, facts: OriginalFile, width: int
    ) -> Path:
        """The preview of that width, or of the original's own where that is less."""
        wanted = snap(width)
        name = f"{wanted}.jpg" if index == 0 else f"{wanted}-{index}.jpg"
        path = self._folder / exposure_id / name
        while not _is_whole(path):
            with self._alone(path) as first:
                if first:
                    with told_as_storage("the preview"):
                        self._make(path, original, facts, wanted)
        return path

    @contextmanager
    def _alone(self, path: Path) -> Iterator[bool]:
        """True for the one who makes it; the others wait for that one, and get its error."""
        with self._guard:
            future = self._making.get(path)
            mine = future is None
            if future is None:
                future = self._making[path] = Future()
        if not mine:
            future.result()
            yield False
            return
        try:
            yield not _is_whole(path)
        except BaseException as error:
            future.set_exception(error)
            raise
        else:
            future.set_result(None)
        finally:
            with self._guard:
                del self._making[path]

    def _make(self, path: Path, original: Path, facts: OriginalFile, width: int) -> None:
        if (facts.width or 0) * (facts.height or 0) > MOST_PIXELS:
            raise NoPreview(f"{facts.name} has more than {MOST_PIXELS:,} pixels.")
        with self._decoders:
            data = original.read_bytes()
            large = too_large(data)  # whatever the database or the camera said of it
            if large is not None:
                raise NoPreview(f"{facts.name} is not shown: {large}")
            pixels = _decoded(data, facts, width)
            if pixels is None:
                raise NoPreview(f"{facts.name} cannot be decoded ({facts.media_type}).")
            jpeg = _jpeg(_narrowed(pixels, width))
        path.parent.mkdir(parents=True, exist_ok=True)
        half = path.with_suffix(".part")
        half.unlink(missing_ok=True)
        descriptor = self._disk.create(half)
        try:
            self._disk.write(descriptor, jpeg)
        finally:
            self._disk.close(descriptor)
        self._disk.rename(half, path)

    def forget(self, exposure_ids: list[str]) -> None:
        """Throw the previews of these exposures away."""
        for exposure_id in exposure_ids:
            folder = self._folder / exposure_id
            for path in folder.glob("*"):
                self._disk.unlink(path)
            if folder.is_dir():
                folder.rmdir()


def _is_whole(path: Path) -> bool:
    """A preview is not flushed, so after a power cut it may be there but cut short."""
    try:
        with path.open("rb") as file:
            if file.seek(0, 2) < 4:
                return False
            file.seek(-2, 2)
            return file.read() == b"\xff\xd9"
    except FileNotFoundError:
        return False


def _decoded(data: bytes, facts: OriginalFile, width: int) -> NDArray[np.uint8] | None:
    if facts.media_type == "image/jpeg":
        return _decode(data, _flags(facts.width, width))
    pixels = None if _is_raw(facts) else _decode(data, _AS_STORED)
    if pixels is None:
        inside = largest_jpeg(data)
        if inside is not None:
            pixels = _decode(data[inside.offset :], _flags(inside.width, width))
    return pixels


def _is_raw(facts: OriginalFile) -> bool:
    # OpenCV takes many raw files for TIFF, and would show the first thumbnail in them.
    return facts.media_type not in {"image/png", "image/tiff", "image/webp", "image/bmp"}


def _flags(original_width: int | None, width: int) -> int:
    if original_width is not None:
        for factor, flags in _REDUCED:
            if original_width // factor >= width:
                return flags
    return _AS_STORED


def _decode(data: bytes, flags: int) -> NDArray[np.uint8] | None:
    if too_large(data) is not None:  # a picture inside the file
        return None
    try:
        pixels: Any = cv2.imdecode(np.frombuffer(data, np.uint8), flags)
    except cv2.error:
        return None
    return None if pixels is None else np.asarray(pixels, np.uint8)


def _narrowed(pixels: NDArray[np.uint8], width: int) -> NDArray[np.uint8]:
    height, own = pixels.shape[:2]
    if own <= width:
        return pixels
    size = (width, max(1, round(height * width / own)))
    return np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8)


def _jpeg(pixels: NDArray[np.uint8]) -> bytes:
    ok, encoded = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    if not ok:
        raise NoPreview("The preview could not be encoded.")
    return bytes(encoded)
