"""Mains light varies at twice the mains frequency."""

from fractions import Fraction

import pytest

from standclear.shooting.watches.mains import (
    as_setting,
    beats,
    shutter_seconds,
    steady_shutters,
)


@pytest.mark.parametrize(
    ("written", "seconds"),
    [("1/50", Fraction(1, 50)), ("0.5", Fraction(1, 2)), ('2"', 2), ("0,3s", Fraction(3, 10))],
)
def test_shutter_settings_are_read_as_cameras_write_them(written, seconds):
    assert shutter_seconds(written) == seconds


@pytest.mark.parametrize("written", ["bulb", "", "1/0", "-1", "auto"])
def test_what_is_no_time_is_not_taken_for_one(written):
    assert shutter_seconds(written) is None


@pytest.mark.parametrize(
    ("shutter", "at_50", "at_60"),
    [
        (Fraction(1, 100), False, True),
        (Fraction(1, 50), False, True),
        (Fraction(1, 25), False, True),
        (Fraction(1, 120), True, False),
        (Fraction(1, 60), True, False),
        (Fraction(1, 30), True, False),
        (Fraction(1, 80), True, True),
        (Fraction(1, 500), True, True),
        (Fraction(1, 10), False, False),
    ],
)
def test_only_whole_periods_of_the_light_do_not_beat(shutter, at_50, at_60):
    """Multiples of 1/100 s at 50 Hz and of 1/120 s at 60 Hz (DESIGN, numbers of the trade)."""
    assert (beats(shutter, 50), beats(shutter, 60)) == (at_50, at_60)


@pytest.mark.parametrize(
    ("shutter", "hertz", "near"),
    [
        (Fraction(1, 60), 50, ("1/100", "1/50")),
        (Fraction(1, 50), 60, ("1/60", "1/40")),
        (Fraction(1, 500), 50, ("1/100", "1/100")),
    ],
)
def test_the_nearest_times_that_do_not_beat_are_offered(shutter, hertz, near):
    found = steady_shutters(shutter, hertz)
    assert tuple(as_setting(seconds) for seconds in found) == near
    assert not any(beats(seconds, hertz) for seconds in found)
