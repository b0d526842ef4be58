"""How long things fall on a model set, so that they look life-size when the film is shown.

A set at 1:6 stands for one six times as large. A fall over model height h stands for a fall over
6 h, which takes sqrt(2 · 6 h / g) of film time: longer by sqrt(6) than the model itself would fall.
"""

import math
from fractions import Fraction

from standclear.timing.easing import Bounce, Easing, FreeFall
from standclear.timing.errors import TimingError
from standclear.timing.numbers import exact

# Standard acceleration of gravity, 3rd General Conference on Weights and Measures (1901).
GRAVITY_MM_S2 = 9806.65


def fall_seconds(height_mm: float, scale: float = 1.0) -> float:
    """Film time in seconds of a fall from rest over ``height_mm`` on a 1:``scale`` set."""
    _check(height_mm, scale)
    return math.sqrt(2 * height_mm * scale / GRAVITY_MM_S2)


def fallen_mm(seconds: float, scale: float = 1.0) -> float:
    """How far on the set (mm) a thing has fallen after so much film time."""
    _check(1.0, scale)
    return GRAVITY_MM_S2 * seconds * seconds / (2 * scale)


def natural_seconds(easing: Easing, height_mm: float, scale: float = 1.0) -> float | None:
    """Film time of a fall or a bounce from ``height_mm`` by gravity; None for other easings."""
    if isinstance(easing, FreeFall):
        return fall_seconds(height_mm, scale)
    if isinstance(easing, Bounce):
        return fall_seconds(height_mm, scale) * easing.falls
    return None


def parse_scale(text: str | Fraction | float) -> Fraction:
    """The 6 of ``1:6`` (or plain ``6``). Raises TimingError outside 1:1000 to 1000:1."""
    if isinstance(text, str) and ":" in text:
        left, _, right = text.partition(":")
        model = exact(left)
        if model <= 0:
            raise TimingError("A scale is written 1:6: one on the set stands for six.")
        scale = exact(right) / model
    else:
        scale = exact(text)
    if not Fraction(1, 1000) <= scale <= 1000:
        raise TimingError("A scale lies between 1:1000 and 1000:1, such as 1:6.")
    return scale


def _check(height_mm: float, scale: float) -> None:
    if not (math.isfinite(height_mm) and height_mm > 0):
        raise TimingError("A fall needs a height of more than 0 mm.")
    if not (math.isfinite(scale) and scale > 0):
        raise TimingError("A scale is more than 0; a set at 1:6 has scale 6.")
