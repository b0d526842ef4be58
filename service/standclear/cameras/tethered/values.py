"""A camera's own words for its settings, made readable, and back. No camera needed.

Shutter times become ``1/50`` or seconds (``2``), apertures ``f/8``, exposure modes plain words; the
camera's own choice is what is written to it.
"""

import re
from collections.abc import Sequence
from fractions import Fraction

_NUMBER = re.compile(r"^(?:f/?|iso\s*)?(\d+(?:\.\d+)?)(?:\s*/\s*(\d+(?:\.\d+)?))?\s*s?$", re.I)
_AUTO = re.compile(r"\bauto(matic)?\b", re.I)
_MODES = {
    "m": "manual",
    "manual": "manual",
    "p": "program",
    "program": "program",
    "a": "aperture priority",
    "av": "aperture priority",
    "aperture priority": "aperture priority",
    "s": "shutter priority",
    "tv": "shutter priority",
    "shutter priority": "shutter priority",
    "b": "bulb",
    "bulb": "bulb",
}
#: Longer times are told in seconds, shorter as a fraction (common practice, no source).
_FRACTIONS_BELOW = Fraction(3, 10)


def seconds(shutter: str) -> float | None:
    """The time that a shutter value names (``1/50``, ``0.0200s``, ``2``), in seconds."""
    found = _NUMBER.match(shutter.strip())
    if not found or not float(found[2] or 1):
        return None
    return float(found[1]) / float(found[2] or 1)


def readable(name: str, own: str) -> str:
    """The camera's own value of the setting ``name`` as we show it."""
    text = own.strip()
    if name == "shutter":
        return _shutter(text)
    if name == "aperture":
        found = _NUMBER.match(text)
        return f"f/{float(found[1]):g}" if found else _plain(text)
    if name == "iso":
        found = _NUMBER.match(text)
        return f"{float(found[1]):g}" if found and len(found[1]) < 7 else _plain(text)
    if name == "exposure_mode":
        return _MODES.get(text.lower(), _plain(text))
    return _plain(text) if name in ("white_balance", "focus") else text


def readable_choices(name: str, own: Sequence[str]) -> dict[str, str]:
    """Shown choice → the camera's own, in the camera's order.

    Where two would read alike, the one whose own word it is gets it, else the first; the others
    keep their own word, so that each can be chosen.
    """
    shown: dict[str, str] = {}
    for each in own:
        word = readable(name, each)
        free = word not in shown and (word == each or word not in own)
        shown[word if free else each] = each
    return shown


def is_automatic(name: str, value: str, exposure_mode: str | None) -> bool | None:
    """Whether a readable value, in that exposure mode, is the camera's own decision.

    ``None`` where it does not tell: a camera without an exposure mode may well be in program.
    """
    if _AUTO.search(value):
        return True
    if name == "focus":
        return not re.search(r"\b(manual|mf|fixed|off)\b", value, re.I)
    if name == "exposure_mode":
        return value not in ("manual", "bulb")
    if name in ("iso", "white_balance"):
        return False
    if exposure_mode is None:
        return None
    left_to_us = {"shutter": "shutter priority", "aperture": "aperture priority"}[name]
    return exposure_mode not in ("manual", "bulb", left_to_us)


def _shutter(text: str) -> str:
    if "/" in text:
        return text.lower().removesuffix("s").replace(" ", "")
    time = seconds(text)
    if time is None:
        return _plain(text)
    exact = Fraction(time).limit_denominator(100_000)
    if 0 < exact < _FRACTIONS_BELOW:
        return f"1/{round(1 / exact)}"
    return f"{time:g}"


def _plain(text: str) -> str:
    return "auto" if _AUTO.fullmatch(text) or text.lower() == "implicit auto" else text.lower()
