"""The amounts that end the first part of a typed action: ``120 mm over 10 s``, ``at 12 mm/s``."""

import re
from collections.abc import Callable, Container
from dataclasses import dataclass
from fractions import Fraction

from standclear.timing.durations import Duration
from standclear.timing.errors import PlanError
from standclear.timing.plan import Pace
from standclear.timing.plan_words import LENGTH_WORDS, UNIT_WORDS, Word, number

_WORD = re.compile(r"\S+")
_AMOUNT = re.compile(r"(-?\.?\d[\d./]*)([a-z]+)", re.ASCII)
NOT_FINITE = frozenset({"nan", "inf", "-inf", "infinity"})
_SPEED_WORD = "mm/s"

Gravity = Callable[[Fraction], Fraction]  # height in mm to film time in seconds


@dataclass(frozen=True, slots=True)
class Amounts:
    """How long, how far and, when typed as ``at 12 mm/s``, how fast."""

    duration: Duration
    length_mm: Fraction | None = None
    pace: Pace | None = None


@dataclass(frozen=True, slots=True)
class _Taken:
    value: Fraction
    unit: str
    column: int


def words_of(piece: Word) -> list[Word]:
    """The words of a piece, each with its own column."""
    return [Word(m[0], piece.column + m.start()) for m in _WORD.finditer(piece.text)]


def take_amounts(head: list[Word], end: int, gravity: Gravity | None = None) -> Amounts:
    """Takes the amounts off the end of the words; ``end`` is the column after the last one.

    ``gravity`` gives the duration of a fall whose length alone is typed.
    """
    speed = _take_speed(head)
    if speed is not None:
        return _from_speed(head, speed, end)
    taken = _take(head, UNIT_WORDS)
    if taken is None and gravity and (height := _take(head, LENGTH_WORDS)):
        way = _millimetres(height)
        return Amounts(Duration(gravity(way), "s"), way)
    if taken is None:
        raise _no_duration(head, end)
    duration = _duration(taken)
    if head and head[-1].text in ("over", "for"):
        head.pop()
    measured = _take(head, LENGTH_WORDS)
    return Amounts(duration, _millimetres(measured) if measured else None)


def _from_speed(head: list[Word], speed: Fraction, end: int) -> Amounts:
    measured = _take(head, LENGTH_WORDS)
    if measured is None:
        raise PlanError("A speed needs a length, as in dash 300 mm at 150 mm/s.", column=end)
    if speed <= 0:
        raise PlanError("A speed is more than 0 mm/s.", column=end)
    way = _millimetres(measured)
    return Amounts(Duration(way / speed, "s"), way, Pace(speed_mm_s=speed))


def _duration(taken: _Taken) -> Duration:
    try:
        return Duration(taken.value, UNIT_WORDS[taken.unit])
    except PlanError as error:
        raise error.at(0, taken.column) from error


def _millimetres(taken: _Taken) -> Fraction:
    if taken.value <= 0:
        raise PlanError("A length is more than nothing; give one such as 120 mm.", 0, taken.column)
    return taken.value * LENGTH_WORDS[taken.unit]


def _take_speed(head: list[Word]) -> Fraction | None:
    """Takes ``at 150 mm/s`` off the end."""
    if len(head) < 3 or head[-1].text != _SPEED_WORD or head[-3].text != "at":
        return None
    value = _number(head[-2])
    del head[-3:]
    return value


def _take(head: list[Word], units: Container[str]) -> _Taken | None:
    """Takes ``10 s`` or ``10s`` off the end, when it is there in one of the units."""
    if not head:
        return None
    joined = _AMOUNT.fullmatch(head[-1].text)
    if joined and joined[2] in units:
        column = head.pop().column
        return _Taken(_number(Word(joined[1], column)), joined[2], column)
    if len(head) < 2 or head[-1].text not in units or not starts_as_number(head[-2].text):
        return None
    taken = _Taken(_number(head[-2]), head[-1].text, head[-2].column)
    del head[-2:]
    return taken


def starts_as_number(text: str) -> bool:
    """Whether a word is meant as a number, a good one or not."""
    return text.lstrip("-+.")[:1].isdecimal() or text.lower() in NOT_FINITE


def _number(word: Word) -> Fraction:
    try:
        return number(word.text)
    except PlanError as error:
        raise error.at(0, word.column) from error


def _no_duration(head: list[Word], end: int) -> PlanError:
    if not head:
        return PlanError("How long? Give a duration such as 1 s, 12 frames or 4 beats.", 0, end)
    last = head[-1]
    if last.text in UNIT_WORDS and len(head) > 1:
        return PlanError(f"“{head[-2].text[:30]}” is not a number.", 0, head[-2].column)
    if starts_as_number(last.text):
        return PlanError(f"“{last.text[:30]}” needs a unit: s, frames or beats.", 0, last.column)
    if len(head) > 1 and starts_as_number(head[-2].text):
        return PlanError(
            f"“{last.text[:30]}” is no unit of time; use s, frames or beats.", 0, last.column
        )
    return PlanError("How long? End with a duration such as 1 s, 12 frames or 4 beats.", 0, end)
