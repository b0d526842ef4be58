"""Keeps the drawn set between runs, in the folder that ``STANDCLEAR_DRAWN`` names.

Drawing takes some seconds of work, and many short runs (tests, benches) need the same drawing each
time. Without the setting nothing is written anywhere and the set is drawn anew.
"""

import hashlib
import os
import tempfile
import zipfile
from functools import lru_cache
from pathlib import Path
from typing import cast

import cv2
import numpy as np

from standclear.cameras.rehearsal import bottle, geometry, lamp, noise, scene
from standclear.cameras.rehearsal.scene import Scene

SETTING = "STANDCLEAR_DRAWN"


def drawn_set(card: bool) -> Scene:
    """The empty set: read where it was kept, else drawn (and kept, where a folder is named)."""
    folder = os.environ.get(SETTING, "")
    if not folder:
        return scene.empty_set(card)
    file = Path(folder) / f"set-{_fingerprint()}-{int(card)}.npz"
    kept = _read(file)
    if kept is None:
        kept = scene.empty_set(card)
        _keep(file, kept)
    return kept


@lru_cache(maxsize=1)
def _fingerprint() -> str:
    """Of all that decides how the drawing comes out, so that no old one is taken for today's."""
    digest = hashlib.sha256(f"{cv2.__version__} {np.__version__}".encode())
    for module in (bottle, geometry, lamp, noise, scene):
        digest.update(Path(cast(str, module.__file__)).read_bytes())
    return digest.hexdigest()[:16]


def _read(file: Path) -> Scene | None:
    try:
        with file.open("rb") as data, np.load(data) as kept:
            return Scene(kept["master"], kept["bottle"])
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None  # not kept yet, or not whole: it is drawn again


def _keep(file: Path, drawn: Scene) -> None:
    """Under a name of its own first, so that nobody reads half a drawing."""
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=file.parent, suffix=".part", delete=False) as part:
            np.savez(part, master=drawn.master, bottle=drawn.bottle)
        Path(part.name).replace(file)
    except OSError:
        return  # a drawing that could not be kept is drawn again next time
