"""Timecode against SMPTE ST 12-1: an odometer that skips what the standard says is skipped.

ST 12-1, drop-frame: the first two frame numbers (00 and 01) are left out at the start of each
minute except minutes 0, 10, 20, 30, 40 and 50. Ten minutes hold 17,982 frames, an hour 107,892.
"""

import os
from collections.abc import Iterator
from fractions import Fraction
from itertools import islice

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standclear.timing.errors import TimingError
from standclear.timing.timecode import (
    Timecode,
    frame_of,
    frames_in_a_day,
    parse_timecode,
    timecode,
)

LONG = os.environ.get("STANDCLEAR_LONG") == "1"
NTSC = Fraction(30000, 1001)
HOUR = 107_892


def odometer(base: int = 30, dropped: int = 2) -> Iterator[tuple[int, int, int, int]]:
    """Every legal number of a day in order, written down without any arithmetic on frames."""
    for hours in range(24):
        for minutes in range(60):
            for seconds in range(60):
                skips = dropped if seconds == 0 and minutes % 10 else 0
                for frames in range(skips, base):
                    yield hours, minutes, seconds, frames


def fields(code: Timecode) -> tuple[int, int, int, int]:
    return code.hours, code.minutes, code.seconds, code.frames


def test_drop_frame_agrees_with_the_standards_count_both_ways() -> None:
    """Long form: every frame of 24 h. Short form: one hour whole, then each minute's edges."""
    for frame, legal in enumerate(odometer()):
        if not (LONG or frame < HOUR or legal[2:] in {(59, 29), (0, 0), (0, 2), (0, 1), (0, 3)}):
            continue
        code = timecode(frame, NTSC)
        assert fields(code) == legal
        assert code.drop
        assert frame_of(code, NTSC) == frame
    assert frame == frames_in_a_day(NTSC, True) - 1 == 24 * HOUR - 1


def test_ten_minutes_hold_17982_frames_and_an_hour_107892() -> None:
    assert frame_of(parse_timecode("00:10:00;00", NTSC), NTSC) == 17_982
    assert frame_of(parse_timecode("01:00:00;00", NTSC), NTSC) == HOUR
    assert sum(1 for _ in islice(odometer(), 17_982)) == 17_982
    assert str(timecode(17_981, NTSC)) == "00:09:59;29"
    assert str(timecode(1800, NTSC)) == "00:01:00;02"


def test_drop_frame_keeps_pace_with_the_clock() -> None:
    """A day of drop-frame timecode is less than 0.1 s off a day of real time (ST 12-1: 86 ms)."""
    day = frames_in_a_day(NTSC, True) / NTSC
    assert abs(float(day) - 86_400) < 0.1


@pytest.mark.parametrize("text", ["00:01:00;00", "00:01:00;01", "23:59:00;01", "10:11:00;00"])
def test_a_number_that_is_dropped_is_refused(text: str) -> None:
    with pytest.raises(TimingError, match="does not exist"):
        parse_timecode(text, NTSC)


@pytest.mark.parametrize(
    "text",
    [
        "24:00:00:00",
        "00:60:00:00",
        "00:00:60:00",
        "00:00:00:30",
        "0:0:0:0",
        "",
        "x" * 10000,
        "00:00:00",
        "-1:00:00:00",
        "٠٠:٠٠:٠٠:٠٠",
    ],
)
def test_what_is_no_timecode_is_refused(text: str) -> None:
    with pytest.raises(TimingError):
        parse_timecode(text, NTSC)


def test_drop_frame_is_refused_at_rates_that_have_none() -> None:
    with pytest.raises(TimingError, match="30000/1001"):
        parse_timecode("00:00:01;00", Fraction(24))


@pytest.mark.parametrize("frame", [-1, 24 * HOUR])
def test_frames_outside_the_day_are_refused(frame: int) -> None:
    with pytest.raises(TimingError):
        timecode(frame, NTSC)


RATES = [Fraction(r) for r in (8, 12, 15, 24, 25, 30, 50, 60)] + [
    Fraction(24000, 1001),
    Fraction(30000, 1001),
    Fraction(60000, 1001),
    Fraction(25, 2),
]


@given(st.sampled_from(RATES), st.integers(0, 8 * 86_400 - 1))
def test_every_frame_comes_back_from_its_timecode(rate: Fraction, frame: int) -> None:
    code = timecode(frame, rate)
    assert frame_of(parse_timecode(str(code), rate), rate) == frame
    plain = timecode(frame, rate, drop=False)
    assert frame_of(parse_timecode(str(plain), rate), rate) == frame


def test_at_60000_1001_four_numbers_are_dropped() -> None:
    """ST 12-1 counts pairs at high rates, so that the 59.94 count drops twice as many."""
    rate = Fraction(60000, 1001)
    for frame, legal in enumerate(islice(odometer(60, 4), 2 * 35_964)):
        assert fields(timecode(frame, rate)) == legal
