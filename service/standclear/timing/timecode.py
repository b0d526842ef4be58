"""Timecode hh:mm:ss:ff to frame number and back, after SMPTE ST 12-1.

Frames count from 0 at 00:00:00:00 and end with the day. At 30000/1001 and 60000/1001 frames per
second drop-frame counting leaves out the first 2 (4) frame numbers of each minute, except in each
tenth minute, so that the count keeps pace with the clock; it is written with a semicolon.
"""

import re
from dataclasses import dataclass
from fractions import Fraction

from standclear.timing.errors import TimingError
from standclear.timing.rates import timebase

_PATTERN = re.compile(r"(\d\d):(\d\d):(\d\d)([:;])(\d\d\d?)", re.ASCII)
_DROPPED_A_MINUTE = {(30000, 1001): 2, (60000, 1001): 4}


@dataclass(frozen=True, slots=True)
class Timecode:
    """One legal time code: numbers that its rate really counts."""

    hours: int
    minutes: int
    seconds: int
    frames: int
    drop: bool

    def __str__(self) -> str:
        mark = ";" if self.drop else ":"
        return f"{self.hours:02d}:{self.minutes:02d}:{self.seconds:02d}{mark}{self.frames:02d}"


def may_drop(rate: Fraction) -> bool:
    """Whether drop-frame counting is defined for this rate."""
    return (rate.numerator, rate.denominator) in _DROPPED_A_MINUTE


def frames_in_a_day(rate: Fraction, drop: bool = False) -> int:
    """How many frame numbers 24 hours of timecode hold."""
    minutes = 24 * 60
    return minutes * 60 * timebase(rate) - _dropped(rate, drop) * (minutes - minutes // 10)


def timecode(frame: int, rate: Fraction, drop: bool | None = None) -> Timecode:
    """The time code of a frame counted from 0. ``drop`` None: drop wherever it is defined.

    Raises TimingError for a frame before 0 or past the day, or drop where it is not defined.
    """
    drop = may_drop(rate) if drop is None else drop
    if not 0 <= frame < frames_in_a_day(rate, drop):
        raise TimingError("Timecode counts from 00:00:00:00 and ends after 24 hours.")
    base = timebase(rate)
    label = _with_gaps(frame, base, _dropped(rate, drop))
    seconds, frames = divmod(label, base)
    return Timecode(seconds // 3600, seconds // 60 % 60, seconds % 60, frames, drop)


def frame_of(code: Timecode, rate: Fraction) -> int:
    """The frame, from 0, that a time code stands for. Raises TimingError for an illegal number."""
    _check(code, rate)
    minutes = code.hours * 60 + code.minutes
    label = (minutes * 60 + code.seconds) * timebase(rate) + code.frames
    return label - _dropped(rate, code.drop) * (minutes - minutes // 10)


def parse_timecode(text: str, rate: Fraction) -> Timecode:
    """Reads ``01:02:03:04`` or, drop-frame, ``01:02:03;04``. Raises TimingError."""
    found = _PATTERN.fullmatch(text.strip())
    if not found:
        raise TimingError("Write timecode as hh:mm:ss:ff, drop-frame as hh:mm:ss;ff.")
    hours, minutes, seconds, frames = (int(found[n]) for n in (1, 2, 3, 5))
    code = Timecode(hours, minutes, seconds, frames, found[4] == ";")
    _check(code, rate)
    return code


def _dropped(rate: Fraction, drop: bool) -> int:
    if not drop:
        return 0
    if not may_drop(rate):
        raise TimingError(
            "Drop-frame timecode exists at 30000/1001 and 60000/1001 only; "
            "write hh:mm:ss:ff with a colon at other rates."
        )
    return _DROPPED_A_MINUTE[rate.numerator, rate.denominator]


def _with_gaps(frame: int, base: int, dropped: int) -> int:
    """The number shown by a counter that leaves out ``dropped`` numbers a minute but the tenth."""
    if not dropped:
        return frame
    minute = base * 60 - dropped
    tens, rest = divmod(frame, minute * 10 + dropped)
    # The first of ten minutes is whole, so the rest is counted as if it too had its gap in front.
    short_minutes = max(rest - dropped, 0) // minute
    return frame + dropped * (9 * tens + short_minutes)


def _check(code: Timecode, rate: Fraction) -> None:
    """Refuses numbers that the counter never shows."""
    dropped = _dropped(rate, code.drop)
    inside = (
        0 <= code.hours < 24
        and 0 <= code.minutes < 60
        and 0 <= code.seconds < 60
        and 0 <= code.frames < timebase(rate)
    )
    if not inside:
        raise TimingError(f"{code} is not a timecode at this rate; a number in it is out of range.")
    if code.seconds == 0 and code.minutes % 10 and code.frames < dropped:
        raise TimingError(f"{code} does not exist: drop-frame counting leaves that number out.")
