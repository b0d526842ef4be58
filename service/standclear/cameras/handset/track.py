"""A browser's camera track in terms of our settings.

Names, units and modes are those of MediaStream Image Capture (W3C): ``exposureTime`` in units of
100 µs, ``colorTemperature`` in kelvin, ``focusDistance`` in metres, ``iso`` as a number, and modes
``manual`` and ``continuous``. What a track does not offer stays automatic, and is said to.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from standclear.cameras.base import NotOffered, Setting

UNITS_PER_SECOND = 10_000
_MODES = {"manual": "manual", "continuous": "automatic"}
_AUTOMATIC = "automatic"
#: Shutter times in thirds of a stop as cameras name them, and those that do not beat with mains
#: light (multiples of 1/100 and 1/120 s). Common practice, no source.
_PARTS = (
    "4000 3200 2500 2000 1600 1250 1000 800 640 500 400 320 250 200 160 125 120 100 80 60 50 40"
)
_PARTS += " 30 25 20 15 13 10 8 6 5 4"
_SHUTTERS = (*(f"1/{part}" for part in _PARTS.split(" ")), "0.3", "0.4", "0.5", "0.6", "0.8", "1")


@dataclass(frozen=True, slots=True)
class Range:
    """What a numeric constraint may be."""

    low: float
    high: float
    step: float | None


def settings_of(track: Mapping[str, Any]) -> list[Setting]:
    """The six that a browser can have (a phone's aperture is fixed), then the track's own."""
    found = [_shutter(track), _iso(track), _white_balance(track), _focus(track)]
    found.append(_mode(track, "exposureMode", "exposure_mode", "Exposure"))
    if _range(track, "colorTemperature"):
        found.append(_mode(track, "whiteBalanceMode", "white_balance_mode", "White balance is"))
    if _range(track, "focusDistance"):
        found.append(_mode(track, "focusMode", "focus_mode", "Focus is"))
    if _offers_torch(track):
        on = bool(_now(track).get("torch"))
        choices = ("off", "on")
        found.append(Setting("torch", "Torch", choices[on], choices, automatic=False))
    sources = _capable(track).get("pictureSource")
    if isinstance(sources, list) and len(sources) > 1:
        now = str(_now(track).get("pictureSource"))
        names = tuple(map(str, sources))
        found.append(Setting("picture_source", "Pictures come from", now, names, automatic=False))
    return found


def constraints_for(track: Mapping[str, Any], name: str, value: str) -> dict[str, Any]:
    """The constraints that set one of our settings. Raises NotOffered."""
    setting = next((one for one in settings_of(track) if one.name == name), None)
    if setting is None or not setting.writable:
        raise NotOffered(f"This handset's browser does not let us set {name!r}.")
    if setting.choices and name != "shutter":
        if value not in setting.choices:
            raise NotOffered(f"{name!r} takes {' or '.join(setting.choices)}, not {value!r}.")
        return _choice(track, name, value)
    return _number(track, name, value)


def _shutter(track: Mapping[str, Any]) -> Setting:
    limits = _range(track, "exposureTime")
    if limits is None or not _has_mode(track, "exposureMode", "manual"):
        return _stays_automatic("shutter", "Shutter")
    fits = [one for one in _SHUTTERS if limits.low <= _seconds(one) * 10_000 <= limits.high]
    now = _figure(_now(track).get("exposureTime"))
    value = _shutter_text(now / UNITS_PER_SECOND) if now else _AUTOMATIC
    return Setting("shutter", "Shutter, s", value, tuple(fits), _is_auto(track, "exposureMode"))


def _iso(track: Mapping[str, Any]) -> Setting:
    if not _has_mode(track, "exposureMode", "manual"):
        return _stays_automatic("iso", "ISO")
    return _numeric(track, "iso", "iso", "ISO", "exposureMode")


def _white_balance(track: Mapping[str, Any]) -> Setting:
    if not _range(track, "colorTemperature") and _has_mode(track, "whiteBalanceMode", "manual"):
        return _mode(track, "whiteBalanceMode", "white_balance", "White balance")
    label = "White balance, K"
    return _numeric(track, "colorTemperature", "white_balance", label, "whiteBalanceMode")


def _focus(track: Mapping[str, Any]) -> Setting:
    if not _range(track, "focusDistance") and _has_mode(track, "focusMode", "manual"):
        return _mode(track, "focusMode", "focus", "Focus")
    return _numeric(track, "focusDistance", "focus", "Focus distance, m", "focusMode")


def _numeric(track: Mapping[str, Any], key: str, name: str, label: str, mode: str) -> Setting:
    limits = _range(track, key)
    if limits is None:
        return _stays_automatic(name, label.partition(",")[0])
    now = _figure(_now(track).get(key))
    value = _AUTOMATIC if now is None else f"{now:g}"
    automatic = _is_auto(track, mode)
    low, high, step = limits.low, limits.high, limits.step
    return Setting(name, label, value, automatic=automatic, minimum=low, maximum=high, step=step)


def _mode(track: Mapping[str, Any], key: str, name: str, label: str) -> Setting:
    offered = _capable(track).get(key)
    offered = offered if isinstance(offered, list) else []
    choices = tuple(ours for theirs, ours in _MODES.items() if theirs in offered)
    if "manual" not in choices:
        return _stays_automatic(name, label)
    now = "automatic" if _is_auto(track, key) else "manual"
    return Setting(name, label, now, choices, automatic=now == _AUTOMATIC)


def _stays_automatic(name: str, label: str) -> Setting:
    return Setting(name, label, _AUTOMATIC, (_AUTOMATIC,), automatic=True, writable=False)


def _choice(track: Mapping[str, Any], name: str, value: str) -> dict[str, Any]:
    if name == "torch":
        return {"torch": value == "on"}
    if name == "picture_source":
        return {"pictureSource": value}
    key = {
        "exposure_mode": "exposureMode",
        "white_balance": "whiteBalanceMode",
        "white_balance_mode": "whiteBalanceMode",
        "focus": "focusMode",
        "focus_mode": "focusMode",
    }[name]
    theirs = next(one for one, ours in _MODES.items() if ours == value)
    held = {"exposureMode": ("exposureTime", "iso"), "whiteBalanceMode": ("colorTemperature",)}
    keep = (*held.get(key, ()), *(("focusDistance",) if key == "focusMode" else ()))
    constraints: dict[str, Any] = {key: theirs}
    if theirs == "manual":  # at what it is now, so that nothing jumps
        constraints |= {one: _now(track)[one] for one in keep if _holds(track, one)}
    return constraints


def _number(track: Mapping[str, Any], name: str, value: str) -> dict[str, Any]:
    key, mode = {
        "shutter": ("exposureTime", "exposureMode"),
        "iso": ("iso", "exposureMode"),
        "white_balance": ("colorTemperature", "whiteBalanceMode"),
        "focus": ("focusDistance", "focusMode"),
    }[name]
    limits = _range(track, key)
    assert limits is not None
    try:
        wanted = float(_seconds(value) * UNITS_PER_SECOND if name == "shutter" else Fraction(value))
    except (ValueError, ZeroDivisionError):
        raise NotOffered(f"{name!r} takes a number, not {value!r}.") from None
    if not limits.low <= wanted <= limits.high:
        unit = 1 / UNITS_PER_SECOND if name == "shutter" else 1
        low, high = limits.low * unit, limits.high * unit
        raise NotOffered(f"{name!r} goes from {low:g} to {high:g}, not to {value!r}.")
    constraints: dict[str, Any] = {key: wanted}
    if _has_mode(track, mode, "manual"):
        constraints = {mode: "manual", key: wanted}
    if name == "iso" and _holds(track, "exposureTime"):
        constraints["exposureTime"] = _now(track)["exposureTime"]
    return constraints


def _seconds(text: str) -> Fraction:
    return Fraction(text.strip())


def _shutter_text(seconds: float) -> str:
    return f"1/{round(1 / seconds)}" if seconds < 0.3 else f"{seconds:.2g}"


def _capable(track: Mapping[str, Any]) -> Mapping[str, Any]:
    found = track.get("capabilities")
    return found if isinstance(found, dict) else {}


def _now(track: Mapping[str, Any]) -> Mapping[str, Any]:
    found = track.get("settings")
    return found if isinstance(found, dict) else {}


def _range(track: Mapping[str, Any], key: str) -> Range | None:
    found = _capable(track).get(key)
    if not isinstance(found, dict):
        return None
    low, high = _figure(found.get("min")), _figure(found.get("max"))
    if low is None or high is None or low >= high:
        return None
    return Range(low, high, _figure(found.get("step")) or None)


def _figure(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _has_mode(track: Mapping[str, Any], key: str, mode: str) -> bool:
    offered = _capable(track).get(key)
    return isinstance(offered, list) and mode in offered


def _is_auto(track: Mapping[str, Any], key: str) -> bool:
    return _now(track).get(key) not in ("manual", "none")


def _holds(track: Mapping[str, Any], key: str) -> bool:
    return _range(track, key) is not None and _figure(_now(track).get(key)) is not None


def _offers_torch(track: Mapping[str, Any]) -> bool:
    offered = _capable(track).get("torch")
    return offered is True or (isinstance(offered, list) and True in offered)
