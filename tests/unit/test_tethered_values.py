"""Makers' words for shutter, aperture, mode, and for RAW+JPEG, made readable.

The words are those that libgphoto2's PTP driver uses (camlibs/ptp2/config.c), from memory.
"""

import pytest

from standclear.cameras.tethered.transfer import makes_two
from standclear.cameras.tethered.values import is_automatic, readable, readable_choices, seconds


@pytest.mark.parametrize(
    ("name", "own", "shown"),
    [
        ("shutter", "0.0100s", "1/100"),
        ("shutter", "1/4000", "1/4000"),
        ("shutter", "0.0166s", "1/60"),
        ("shutter", "1.0000s", "1"),
        ("shutter", "0.5", "0.5"),
        ("shutter", "30", "30"),
        ("shutter", "10/600", "10/600"),
        ("shutter", "Bulb", "bulb"),
        ("aperture", "2.8", "f/2.8"),
        ("aperture", "f/2.8", "f/2.8"),
        ("aperture", "f/11", "f/11"),
        ("aperture", "implicit auto", "auto"),
        ("iso", "100", "100"),
        ("iso", "Auto", "auto"),
        ("iso", "Auto ISO", "auto iso"),
        ("white_balance", "Automatic", "auto"),
        ("white_balance", "Color Temperature", "color temperature"),
        ("exposure_mode", "M", "manual"),
        ("exposure_mode", "TV", "shutter priority"),
        ("exposure_mode", "AV", "aperture priority"),
        ("focus", "MF", "mf"),
    ],
)
def test_words_are_made_readable(name: str, own: str, shown: str) -> None:
    assert readable(name, own) == shown


@pytest.mark.parametrize(
    ("shutter", "time"),
    [("1/50", 0.02), ("0.0200s", 0.02), ("2", 2.0), ("bulb", None), ("1/0", None), ("", None)],
)
def test_a_shutter_time_is_read_in_seconds(shutter: str, time: float | None) -> None:
    assert seconds(shutter) == (pytest.approx(time) if time else None)


def test_choices_that_would_read_alike_can_still_be_told_apart() -> None:
    own = ["0.0100s", "1/100", "0.0101s", "Bulb", "1/50"]
    shown = readable_choices("shutter", own)
    assert list(shown.values()) == own
    assert shown["1/100"] == "1/100"
    assert shown["bulb"] == "Bulb"


@pytest.mark.parametrize(
    ("name", "value", "mode", "automatic"),
    [
        ("shutter", "1/50", "manual", False),
        ("shutter", "1/50", "shutter priority", False),
        ("shutter", "1/50", "aperture priority", True),
        ("shutter", "1/50", "program", True),
        ("shutter", "1/50", None, None),
        ("aperture", "f/8", "aperture priority", False),
        ("aperture", "f/8", "shutter priority", True),
        ("aperture", "auto", "manual", True),
        ("iso", "auto iso", "manual", True),
        ("iso", "100", "program", False),
        ("focus", "one shot", "manual", True),
        ("focus", "mf", "manual", False),
        ("focus", "off", None, False),
        ("exposure_mode", "bulb", "bulb", False),
        ("exposure_mode", "auto", "auto", True),
    ],
)
def test_automatic_follows_value_and_mode(
    name: str, value: str, mode: str | None, automatic: bool | None
) -> None:
    assert is_automatic(name, value, mode) is automatic


@pytest.mark.parametrize(
    ("words", "two"),
    [
        ("NEF+Fine", True),
        ("RAW + Large Fine JPEG", True),
        ("RAW+JPEG", True),
        ("JPEG Fine + RAW", True),
        ("cRAW + Medium Normal JPEG", True),
        ("NEF (Raw)", False),
        ("JPEG Fine", False),
        ("RAW", False),
        ("JPEG Fine | 6000x4000", False),
        ("", False),
    ],
)
def test_a_format_that_makes_two_files_is_recognised(words: str, two: bool) -> None:
    assert makes_two(words) is two
