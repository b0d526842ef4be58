"""The options of a typed action: what stands between the commas."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from standclear.timing.easing import LINEAR, Easing
from standclear.timing.easing_text import FIRST_WORDS, parse_easing
from standclear.timing.errors import PlanError, TimingError
from standclear.timing.plan import PACES, Move, Pace
from standclear.timing.plan_words import (
    DrawnPath,
    Word,
    parse_on,
    parse_pace,
    parse_part,
    parse_path,
)


@dataclass
class Options:
    """What was found, and at which column."""

    on: int | None = None
    pace: Pace | None = None
    easing: Easing | None = None
    path: DrawnPath | None = None
    part: tuple[Fraction, Fraction] | None = None
    columns: dict[str, int] = field(default_factory=dict)

    def move(self, length_mm: Fraction | None) -> Move | None:
        """The move that the options and a length make; None when nothing moves."""
        if length_mm is None and self.path is None:
            for name in ("easing", "part"):
                if name in self.columns:
                    raise PlanError(
                        "Only a move can be eased; give its length, as in creep 120 mm over 10 s.",
                        column=self.columns[name],
                    )
            return None
        curve, space, points = self.path or ("straight", "picture", ())
        part = self.part or (Fraction(0), Fraction(1))
        return Move(length_mm, self.easing or LINEAR, points, curve, space, part)


def read_options(pieces: Sequence[Word]) -> Options:
    """Reads options with the columns where they start. Raises PlanError with a column."""
    options = Options()
    for piece in pieces:
        column = piece.column + len(piece.text) - len(piece.text.lstrip())
        words = " ".join(piece.text.lower().replace("(", " (").split())
        try:
            name, value = _read(words)
        except TimingError as error:
            raise PlanError(error.sentence, column=column) from error
        if name in options.columns:
            raise PlanError(f"“{words[:30]}” comes on top of another; keep one.", column=column)
        setattr(options, name, value)
        options.columns[name] = column
    return options


def _read(words: str) -> tuple[str, object]:
    """Which option this is, and its value."""
    first = words.partition(" ")[0]
    if first == "on":
        return "on", parse_on(words)
    if first in PACES or words.endswith("mm/s"):
        return "pace", parse_pace(words)
    if first in FIRST_WORDS:
        return "easing", parse_easing(words)
    if first in ("straight", "smooth"):
        return "path", parse_path(words)
    if first == "part":
        return "part", parse_part(words)
    shown = f"“{words[:30]}” is no option" if words else "An option is missing after the comma"
    raise PlanError(f"{shown}; use an easing, on twos, a pace such as slow or 12 mm/s, or a path.")
