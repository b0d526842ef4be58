"""What finishing needs to know of a shot: paths, holds and the rate. Nothing of the library."""

import re
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from standclear.finishing.problems import CannotExport

_RATE = re.compile(r"^\d{1,6}(/\d{1,6}|\.\d{1,3})?$")
_NTSC = {"23.976": Fraction(24000, 1001), "29.97": Fraction(30000, 1001)} | {
    "23.98": Fraction(24000, 1001),
    "59.94": Fraction(60000, 1001),
}


def rate_of(text: str) -> Fraction:
    """Frames per second as an exact fraction: ``"12"``, ``"24000/1001"``, ``"29.97"``.

    Raises CannotExport when it is no rate from 1 to 240 frames per second.
    """
    if text in _NTSC:
        return _NTSC[text]
    if not _RATE.match(text) or text.endswith("/0"):
        raise CannotExport(f"“{text}” is no frame rate. Give one such as 12, 24 or 30000/1001.")
    rate = Fraction(text)
    if not 1 <= rate <= 240:
        raise CannotExport(f"A frame rate must lie from 1 to 240 frames per second, not {text}.")
    return rate


@dataclass(frozen=True)
class FilmExposure:
    """One photograph: where its original lies and for how many frames it is held.

    ``width`` and ``height`` in pixels as the library recorded them, 0 when unknown. ``sha256`` of
    the original, when given, is compared before the picture is used.
    """

    path: Path
    hold: int = 1
    media_type: str = "image/jpeg"
    width: int = 0
    height: int = 0
    note: str = ""
    sha256: str = ""
    taken_at: str = ""


@dataclass(frozen=True)
class FilmShot:
    """A shot as finishing sees it. ``sound`` is the file laid under the shot, if any."""

    name: str
    rate: str
    exposures: tuple[FilmExposure, ...]
    sound: Path | None = None
    clean_plate: Path | None = None
    marks: dict[int, str] = field(default_factory=dict)

    @property
    def holds(self) -> list[int]:
        """Frames that each exposure is held for, in order."""
        return [max(1, exposure.hold) for exposure in self.exposures]
