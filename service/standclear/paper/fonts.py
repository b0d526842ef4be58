"""Finds, on this machine, a font that has a character.

Looked through in order: font packages installed beside Standclear (``pip install
standclear[scripts]``), then the folders in which systems keep fonts. Nothing is fetched.
"""

import os
import sys
from collections.abc import Iterator, Sequence
from functools import lru_cache
from importlib.metadata import distributions
from pathlib import Path

import uharfbuzz as hb

_PACKAGES = ("fontpkg", "justmytype")
_ENDINGS = {".ttf", ".otf", ".ttc", ".otc"}
# Slanted, heavy and narrow cuts are left out: regular text is wanted.
_NOT_REGULAR = ("bold", "italic", "oblique", "black", "thin", "light", "condensed", "narrow")
_LATER = ("mono", "serif", "math", "kufi", "display", "color", "emoji", "lastresort", "symbol")
REGULAR_WEIGHT = 400


class Typeface:
    """One font file's face at regular weight, ready for shaping; 1 em is ``units`` high."""

    def __init__(self, path: Path) -> None:
        self.path = path
        face = hb.Face(hb.Blob.from_file_path(str(path)))
        self.font = hb.Font(face)
        if "wght" in {axis.tag for axis in face.axis_infos}:
            self.font.set_variations({"wght": REGULAR_WEIGHT})
        self.units: int = face.upem
        self._characters = face.unicodes

    def has(self, character: str) -> bool:
        """Whether the font has a glyph for it."""
        return ord(character) in self._characters


class Fonts:
    """A set of font files, opened when they are first asked for a character."""

    def __init__(self, files: Sequence[Path]) -> None:
        self._files = list(files)
        self._open: dict[Path, Typeface | None] = {}
        self._known: dict[str, Typeface | None] = {}

    def face_for(self, character: str, preferred: Typeface | None = None) -> Typeface | None:
        """The first font that has the character, ``preferred`` before all; None when none has."""
        if preferred is not None and preferred.has(character):
            return preferred
        if character not in self._known:
            faces = (face for path in self._files if (face := self._opened(path)) is not None)
            self._known[character] = next((face for face in faces if face.has(character)), None)
        return self._known[character]

    def _opened(self, path: Path) -> Typeface | None:
        if path not in self._open:
            try:
                self._open[path] = Typeface(path)
            except (OSError, hb.HarfBuzzError):  # a broken file among the system's is passed over
                self._open[path] = None
        return self._open[path]


@lru_cache(maxsize=1)
def system_fonts() -> Fonts:
    """The fonts of this machine, regular cuts only, plain sans serif first."""
    files = list(dict.fromkeys([*_packaged(), *_installed(_folders())]))
    return Fonts(sorted(files, key=_rank))


def _rank(path: Path) -> tuple[int, int, str]:
    name = path.name.lower()
    plain = 0 if name.startswith(("notosans", "dejavusans", "arial")) else 1
    return sum(word in name for word in _LATER), plain, name


def _packaged() -> Iterator[Path]:
    """Font files of installed font packages."""
    for package in distributions():
        if (package.metadata["Name"] or "").lower().startswith(_PACKAGES):
            for file in package.files or ():
                if _is_regular(Path(file.name)):
                    yield Path(str(package.locate_file(file)))


def _installed(folders: Sequence[Path]) -> Iterator[Path]:
    for folder in folders:
        if folder.is_dir():
            yield from (path for path in sorted(folder.rglob("*")) if _is_regular(path))


def _is_regular(path: Path) -> bool:
    name = path.name.lower()
    return path.suffix.lower() in _ENDINGS and not any(word in name for word in _NOT_REGULAR)


def _folders() -> list[Path]:
    home = Path.home()
    if sys.platform == "darwin":
        return [Path("/System/Library/Fonts"), Path("/Library/Fonts"), home / "Library/Fonts"]
    shared = Path(os.environ.get("XDG_DATA_HOME", home / ".local/share"))
    return [Path("/usr/share/fonts"), Path("/usr/local/share/fonts"), shared / "fonts"]
