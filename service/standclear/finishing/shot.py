"""What finishing needs to know of a shot: paths, holds and the rate. Nothing of the library."""

from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from standclear.finishing.problems import CannotExport
from standclear.timing.errors import TimingError
from standclear.timing.rates import parse_rate


def rate_of(text: str) -> Fraction:
    """Frames per second as an exact fraction: ``"12"``, ``"24000/1001"``, ``"29.97"``.

    Raises CannotExport when it is no rate from 1 to 240 frames per second.
    """
    try:
        return parse_rate(text)
    except TimingError as error:
        raise CannotExport(error.sentence) from error


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
    """A shot as finishing sees it. ``sound`` is the file laid under the shot, if any;
    ``sound_start`` shot frames pass before it begins."""

    name: str
    rate: str
    exposures: tuple[FilmExposure, ...]
    sound: Path | None = None
    marks: dict[int, str] = field(default_factory=dict)
    sound_start: int = 0

    @property
    def holds(self) -> list[int]:
        """Frames that each exposure is held for, in order."""
        return [max(1, exposure.hold) for exposure in self.exposures]
