"""What can be ordered from the rehearsal set: ``rehearsal:seed=3,nudge=7,flicker=0.02,hand=12``."""

from dataclasses import dataclass, fields
from typing import Any

from standclear.cameras.base import NotOffered


@dataclass(frozen=True, slots=True)
class Orders:
    """One field per order. Exposure numbers count from 1; 0 means never.

    Faults at an exposure: ``nudge``, ``hand``, ``same``, ``focus``, ``side``, ``unplug``, ``hang``,
    ``corrupt``. Faults by strength: ``creep`` (px an exposure), ``flicker`` (sd of the light),
    ``band`` (depth of the mains beat), ``drift`` (change of light an exposure). The others set up
    the set itself.
    """

    seed: int = 1
    nudge: int = 0
    nudge_px: float = 1.7
    nudge_deg: float = 0.05
    creep: float = 0.0
    flicker: float = 0.0
    hand: int = 0
    same: int = 0
    focus: int = 0
    focus_px: float = 1.1
    side: int = 0
    side_drop: float = 0.03
    band: float = 0.0
    mains: int = 60
    drift: float = 0.0
    unplug: int = 0
    back: float = 3.0
    hang: int = 0
    hang_s: float = 10.0
    corrupt: int = 0
    noise: float = 1.1
    card: int = 0
    hand_seconds: float = 0.0
    hand_after: float = 0.6
    hand_first: float = 0.0
    auto: str = "on"


#: What ``auto=`` may be: whether the cork takes its next pose by itself after each exposure, or
#: the name of a setting that was left on automatic.
AUTO = ("on", "off", "iso", "white_balance", "exposure_mode")


def read(text: str) -> Orders:
    """The orders written as ``name=value`` with commas between. Raises :class:`NotOffered`."""
    wanted: dict[str, Any] = {}
    for part in filter(None, (piece.strip() for piece in text.split(","))):
        name, equals, value = (piece.strip() for piece in part.partition("="))
        if not equals:
            raise NotOffered(f"The rehearsal set's order “{part}” needs a value: {name}=….")
        wanted[name] = _value(name, value)
    return Orders(**wanted)


def _value(name: str, text: str) -> int | float | str:
    known = {item.name: item.type for item in fields(Orders)}
    if name not in known:
        raise NotOffered(f"The rehearsal set takes no order “{name}”; it takes {', '.join(known)}.")
    if name == "auto":
        if text not in AUTO:
            raise NotOffered(f"The order auto takes {', '.join(AUTO)}, not “{text}”.")
        return text
    try:
        number = int(text) if known[name] is int else float(text)
    except ValueError:
        raise NotOffered(f"The order {name} takes a number, not “{text}”.") from None
    return _in_range(name, number)


def _in_range(name: str, number: int | float) -> int | float:
    """Refuse what cannot be rehearsed (NaN, endless waits, light that turns negative)."""
    signed = name in ("drift", "creep", "nudge_px", "nudge_deg")
    most = {"mains": 60, "flicker": 0.5, "band": 0.9, "side_drop": 1.0, "drift": 0.5, "card": 1}
    limit = most.get(name, 1e6)
    low = -limit if signed else 0
    if not low <= number <= limit or (name == "mains" and number not in (50, 60)):
        raise NotOffered(f"The order {name}={number} is outside what the rehearsal set can do.")
    return number
