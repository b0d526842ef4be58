"""A browser's camera track in terms of our settings.

Units as in MediaStream Image Capture (W3C): exposureTime in 100 µs, colorTemperature in kelvin,
focusDistance in metres.
"""

from typing import Any

import pytest

from standclear.cameras.base import SETTING_NAMES, NotOffered
from standclear.cameras.handset.track import constraints_for, settings_of

PHONE: dict[str, Any] = {
    "capabilities": {
        "exposureMode": ["continuous", "manual"],
        "exposureTime": {"min": 1, "max": 5000, "step": 1},
        "iso": {"min": 50, "max": 3200, "step": 1},
        "whiteBalanceMode": ["continuous", "manual"],
        "colorTemperature": {"min": 2850, "max": 7000, "step": 50},
        "focusMode": ["continuous", "manual"],
        "focusDistance": {"min": 0.1, "max": 4.5, "step": 0.01},
        "torch": True,
        "pictureSource": ["photo", "video frame"],
    },
    "settings": {
        "exposureMode": "manual",
        "exposureTime": 200,
        "iso": 100,
        "whiteBalanceMode": "continuous",
        "colorTemperature": 4000,
        "focusMode": "manual",
        "focusDistance": 0.35,
        "torch": False,
        "pictureSource": "photo",
    },
}


def by_name(track: dict[str, Any]) -> dict[str, Any]:
    return {one.name: one for one in settings_of(track)}


def test_a_phone_that_offers_all_is_told_in_our_names_and_units() -> None:
    found = by_name(PHONE)
    values = {name: one.value for name, one in found.items()}
    assert values == {
        "shutter": "1/50",
        "iso": "100",
        "white_balance": "4000",
        "focus": "0.35",
        "exposure_mode": "manual",
        "white_balance_mode": "automatic",
        "focus_mode": "manual",
        "torch": "off",
        "picture_source": "photo",
    }
    automatic = {name for name, one in found.items() if one.automatic}
    assert automatic == {"white_balance", "white_balance_mode"}
    names = [name for name in found if name in SETTING_NAMES]
    assert names == [name for name in SETTING_NAMES if name in found], "in the order of all cameras"


@pytest.mark.parametrize("track", [{}, {"capabilities": {}, "settings": {}}, {"capabilities": 3}])
def test_a_browser_that_offers_nothing_is_automatic_in_everything(track: dict[str, Any]) -> None:
    found = by_name(track)
    assert set(found) == {"shutter", "iso", "white_balance", "focus", "exposure_mode"}
    assert all(one.automatic and not one.writable for one in found.values())
    for name in found:
        with pytest.raises(NotOffered, match=name):
            constraints_for(track, name, "1")


@pytest.mark.parametrize(
    ("name", "value", "constraints"),
    [
        ("shutter", "1/100", {"exposureMode": "manual", "exposureTime": 100}),
        ("shutter", "0.02", {"exposureMode": "manual", "exposureTime": 200}),
        ("iso", "400", {"exposureMode": "manual", "iso": 400, "exposureTime": 200}),
        ("white_balance", "5000", {"whiteBalanceMode": "manual", "colorTemperature": 5000}),
        ("focus", "0.5", {"focusMode": "manual", "focusDistance": 0.5}),
        ("exposure_mode", "automatic", {"exposureMode": "continuous"}),
        ("exposure_mode", "manual", {"exposureMode": "manual", "exposureTime": 200, "iso": 100}),
        ("white_balance_mode", "manual", {"whiteBalanceMode": "manual", "colorTemperature": 4000}),
        ("focus_mode", "manual", {"focusMode": "manual", "focusDistance": 0.35}),
        ("torch", "on", {"torch": True}),
        ("picture_source", "video frame", {"pictureSource": "video frame"}),
    ],
)
def test_what_is_set_becomes_constraints_and_manual_keeps_what_is(
    name: str, value: str, constraints: dict[str, Any]
) -> None:
    assert constraints_for(PHONE, name, value) == constraints


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("shutter", "2"),
        ("shutter", "1/0"),
        ("shutter", "fast"),
        ("shutter", "nan"),
        ("iso", "49"),
        ("iso", "inf"),
        ("focus", ""),
        ("exposure_mode", "continuous"),
        ("torch", "yes"),
        ("aperture", "2.8"),
        ("nothing", "1"),
    ],
)
def test_what_cannot_be_set_is_refused_by_name(name: str, value: str) -> None:
    with pytest.raises(NotOffered, match=name):
        constraints_for(PHONE, name, value)


def test_every_shutter_choice_is_within_what_the_phone_can() -> None:
    """Multiples of 1/100 and 1/120 s do not beat with mains light; they are among the choices."""
    choices = by_name(PHONE)["shutter"].choices
    assert {"1/100", "1/50", "1/25", "1/120", "1/60", "1/30"} <= set(choices)
    for choice in choices:
        taken = constraints_for(PHONE, "shutter", choice)["exposureTime"]
        assert 1 <= taken <= 5000


@pytest.mark.parametrize("odd", [{"min": "1", "max": 2}, {"min": 5, "max": 5}, [1, 2], None, True])
def test_a_range_that_is_none_counts_as_not_offered(odd: object) -> None:
    track = {**PHONE, "capabilities": {**PHONE["capabilities"], "iso": odd}}
    assert by_name(track)["iso"].writable is False
