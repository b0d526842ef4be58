"""The words of one action, shared by typed plans and CSV: amounts, pace, on, path, part.

Each reader raises PlanError without a place; whoever reads the text adds line and column.
"""

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import get_args

from standclear.timing.durations import MOST_ON, Unit
from standclear.timing.errors import PlanError, TimingError
from standclear.timing.numbers import exact, float_text, number_text
from standclear.timing.paths import MOST_POINTS, Curve
from standclear.timing.plan import PACES, Move, Pace, Space

UNIT_WORDS: dict[str, Unit] = {
    "s": "s",
    "sec": "s",
    "second": "s",
    "seconds": "s",
    "f": "frames",
    "frame": "frames",
    "frames": "frames",
    "beat": "beats",
    "beats": "beats",
}
LENGTH_WORDS = {"mm": Fraction(1), "cm": Fraction(10), "m": Fraction(1000)}
_ON_NAMES = {1: "ones", 2: "twos", 3: "threes", 4: "fours"}
_ON = re.compile(r"on (?:(\d{1,3})s?|ones|twos|threes|fours)", re.ASCII)
_SPEED = re.compile(r"(\S+) ?mm/s")
Points = tuple[tuple[float, float], ...]
DrawnPath = tuple[Curve, Space, Points]


@dataclass(frozen=True, slots=True)
class Word:
    """A piece of the line and the column (from 1) where it starts."""

    text: str
    column: int


def number(text: str) -> Fraction:
    """An exact number, or PlanError."""
    try:
        return exact(text)
    except TimingError as error:
        raise PlanError(error.sentence) from error


def parse_on(text: str) -> int:
    """``on twos``, ``on 2s`` or ``on 2`` → 2."""
    found = _ON.fullmatch(text)
    if not found:
        raise PlanError("Write on ones, on twos, on threes or on 5s.")
    if found[1] is None:
        return {f"on {name}": on for on, name in _ON_NAMES.items()}[text]
    if not 1 <= int(found[1]) <= MOST_ON:
        raise PlanError("Shoot on ones, twos, threes … up to on 24s.")
    return int(found[1])


def on_text(on: int) -> str:
    """2 → ``on twos``."""
    return f"on {_ON_NAMES.get(on, f'{on}s')}"


def parse_pace(text: str) -> Pace:
    """``hold``, ``slow``, ``medium``, ``fast`` or ``12 mm/s``."""
    for name in PACES:
        if text == name:
            return Pace(name)
    found = _SPEED.fullmatch(text)
    if not found:
        raise PlanError("A pace is hold, slow, medium or fast, or a speed such as 12 mm/s.")
    return Pace(speed_mm_s=number(found[1]))


def pace_text(pace: Pace) -> str:
    """The words that ``parse_pace`` reads."""
    if pace.speed_mm_s is not None:
        return f"{number_text(pace.speed_mm_s)} mm/s"
    return str(pace.name)


def parse_path(text: str) -> DrawnPath:
    """``smooth on picture 100 200 300 250 …``: the curve, what it is drawn on, x y x y."""
    words = text.split()
    if len(words) < 3 or words[0] not in get_args(Curve) or words[1] != "on":
        raise PlanError("Write a path as straight on table 0 0 120 0, or smooth on picture ….")
    if words[2] not in get_args(Space):
        raise PlanError("A path is drawn on the picture or on the table.")
    if len(words) > 3 + 2 * MOST_POINTS:
        raise PlanError(f"A path has 2 to {MOST_POINTS} points.")
    numbers = [float(number(word)) for word in words[3:]]
    if len(numbers) < 4 or len(numbers) % 2:
        raise PlanError("A path needs an x and a y for each of two or more points.")
    points = tuple(zip(numbers[::2], numbers[1::2], strict=True))
    curve: Curve = "smooth" if words[0] == "smooth" else "straight"
    space: Space = "table" if words[2] == "table" else "picture"
    return curve, space, points


def path_text(move: Move) -> str:
    """The words that ``parse_path`` reads; empty for a move without a drawn path."""
    if not move.points:
        return ""
    numbers = " ".join(float_text(v) for point in move.points for v in point)
    return f"{move.curve} on {move.space} {numbers}"


def parse_part(text: str) -> tuple[Fraction, Fraction]:
    """``part 0 1/3``: the stretch of a split move's time."""
    words = text.split()
    if len(words) != 3 or words[0] != "part":
        raise PlanError("Write a part of a move as part 0 1/3.")
    return number(words[1]), number(words[2])


def part_text(move: Move) -> str:
    """The words that ``parse_part`` reads; empty for a whole move."""
    if move.part[0] == 0 and move.part[1] == 1:
        return ""
    return f"part {number_text(move.part[0])} {number_text(move.part[1])}"
