"""Easings in words, the same in typed plans, CSV and JSON.

``linear`` · ``ease in`` · ``ease out`` · ``ease both`` · ``bezier 0.2 0 0.4 1`` · ``fall`` ·
``bounce 0.6 3`` (speed kept, times) · ``ticks 0.1 0.4 1`` (by hand).
"""

from standclear.timing.easing import (
    EASE_BOTH,
    EASE_IN,
    EASE_OUT,
    LINEAR,
    MOST_TICKS,
    Bounce,
    CubicBezier,
    Easing,
    FreeFall,
    HandTicks,
)
from standclear.timing.errors import TimingError
from standclear.timing.numbers import exact, float_text

_NAMED: dict[str, Easing] = {
    "linear": LINEAR,
    "ease in": EASE_IN,
    "ease out": EASE_OUT,
    "ease both": EASE_BOTH,
    "fall": FreeFall(),
}
_ALSO = {"ease in and out": "ease both", "free fall": "fall", "ease in out": "ease both"}
FIRST_WORDS = frozenset({"linear", "ease", "fall", "free", "bezier", "bounce", "ticks"})


def parse_easing(text: str) -> Easing:
    """The easing that the words name. Raises TimingError with a sentence."""
    words = " ".join(text.lower().replace("(", " ").replace(")", " ").split())
    words = _ALSO.get(words, words)
    if words in _NAMED:
        return _NAMED[words]
    first, _, rest = words.partition(" ")
    if first not in {"bezier", "bounce", "ticks"}:
        raise TimingError(
            f"“{text.strip()[:30]}” is no easing; choose linear, ease in, ease out, ease both, "
            "bezier, fall, bounce or ticks."
        )
    parts = rest.replace(",", " ").split()
    if len(parts) > MOST_TICKS:
        raise TimingError(f"Spacing by hand needs 1 to {MOST_TICKS:,} ticks.")
    return _with_numbers(first, tuple(float(exact(part)) for part in parts))


def _with_numbers(kind: str, numbers: tuple[float, ...]) -> Easing:
    if kind == "ticks":
        return HandTicks(numbers)
    if kind == "bezier":
        if len(numbers) != 4:
            raise TimingError("A Bézier has four numbers, as in bezier 0.42 0 0.58 1.")
        return CubicBezier(*numbers)
    if len(numbers) > 2 or (len(numbers) == 2 and numbers[1] != int(numbers[1])):
        raise TimingError("A bounce has the speed it keeps and how often, as in bounce 0.6 3.")
    plain = Bounce()
    kept = numbers[0] if numbers else plain.restitution
    return Bounce(kept, int(numbers[1]) if len(numbers) == 2 else plain.times)


def easing_text(easing: Easing) -> str:
    """The words that ``parse_easing`` reads back as the same easing."""
    for name, known in _NAMED.items():
        if known == easing:
            return name
    if isinstance(easing, CubicBezier):
        return "bezier " + _plain(easing.x1, easing.y1, easing.x2, easing.y2)
    if isinstance(easing, Bounce):
        return f"bounce {_plain(easing.restitution)} {easing.times}"
    assert isinstance(easing, HandTicks)
    return "ticks " + _plain(*easing.ticks)


def _plain(*values: float) -> str:
    return " ".join(float_text(value) for value in values)
