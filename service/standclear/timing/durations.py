"""Durations in seconds, frames or beats, and the frames they become.

Rounding never drifts: the ends of actions are rounded, not their lengths, so that the whole plan is
exact to the frame however many actions it has. A duration in frames gets precisely those frames.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, get_args

from standclear.timing.errors import PlanError, TimingError
from standclear.timing.numbers import exact, number_text, round_half_up

Unit = Literal["s", "frames", "beats"]
UNITS: tuple[Unit, ...] = get_args(Unit)
LONGEST_SECONDS = 24 * 60 * 60
MOST_ON = 24
FINEST = 10**12
SLOWEST_TEMPO, FASTEST_TEMPO = Fraction(1), Fraction(1000)


@dataclass(frozen=True, slots=True)
class Duration:
    """A length of film time: ``value`` in ``unit``, exact. Raises PlanError when it cannot be."""

    value: Fraction
    unit: Unit = "s"

    def __post_init__(self) -> None:
        if self.unit not in UNITS:
            raise PlanError("A duration is in s, frames or beats.")
        if self.value <= 0:
            raise PlanError("A duration must be more than nothing; give one such as 1 s.")
        if self.value.denominator > FINEST:
            raise PlanError("That duration is too finely divided; give fewer decimals.")
        if self.unit == "frames" and self.value.denominator != 1:
            raise PlanError("Frames are whole; give a whole number of them, or seconds.")

    def __str__(self) -> str:
        return f"{number_text(self.value)} {self.unit}"

    def exact_frames(self, rate: Fraction, tempo: Fraction | None = None) -> Fraction:
        """Film frames at ``rate`` (frames/s); ``tempo`` in beats per minute, needed for beats."""
        if self.unit == "frames":
            return self.value
        if self.unit == "s":
            return self.value * rate
        if tempo is None:
            raise PlanError("Beats need a tempo; give the plan one, such as tempo 120.")
        return self.value * 60 / tempo * rate


def duration(value: object, unit: Unit = "s") -> Duration:
    """A Duration from anything ``numbers.exact`` reads. Raises PlanError."""
    try:
        return Duration(exact(value), unit)
    except PlanError:
        raise
    except TimingError as error:
        raise PlanError(error.sentence) from error


def parse_tempo(value: object) -> Fraction:
    """Beats per minute from 1 to 1000. Raises PlanError."""
    try:
        tempo = exact(value)
    except TimingError as error:
        raise PlanError(f"That is no tempo: {error.sentence}") from error
    if not SLOWEST_TEMPO <= tempo <= FASTEST_TEMPO:
        raise PlanError("A tempo lies between 1 and 1000 beats per minute.")
    return tempo


def frame_ends(
    durations: Iterable[Duration], rate: Fraction, tempo: Fraction | None = None
) -> tuple[int, ...]:
    """The frame after which each of a row of durations ends: the rounded running sum.

    Raises PlanError, with ``line`` the place in the row from 1, for one shorter than a frame or
    when the sum passes 24 hours.
    """
    ends: list[int] = []
    total = Fraction(0)
    for place, item in enumerate(durations, start=1):
        try:
            frames = item.exact_frames(rate, tempo)
        except PlanError as error:
            raise error.at(place) from error
        if frames < 1:
            raise PlanError(f"{item} is shorter than one frame at this rate.", place)
        total += frames
        if total > LONGEST_SECONDS * rate:
            raise PlanError("The plan is longer than 24 hours; shorten this action.", place)
        ends.append(round_half_up(total))
    return tuple(ends)


def seconds_of(frames: int, rate: Fraction) -> Fraction:
    """Film time of so many frames, in seconds."""
    return frames / rate


def beat_of_frame(frame: int, rate: Fraction, tempo: Fraction) -> int | None:
    """The beat (from 0) that falls on this frame (from 0), or None when none does."""
    beat = -(-(frame * tempo) // (60 * rate))
    for near in (int(beat) - 1, int(beat), int(beat) + 1):
        if near >= 0 and round_half_up(near * 60 * rate / tempo) == frame:
            return near
    return None


def exposures_needed(frames: int, on: int = 1) -> int:
    """Pictures to take for ``frames`` shown, each held for ``on`` (1 ones, 2 twos, 3 threes)."""
    return -(-frames // on)


def holds(frames: int, on: int = 1) -> tuple[int, ...]:
    """How long each picture is held; the last one makes up what is left over."""
    whole, rest = divmod(frames, on)
    return (on,) * whole + ((rest,) if rest else ())
