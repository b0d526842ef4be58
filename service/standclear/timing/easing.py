"""Easing: how much of a move is done (progress) at each part of its time.

Time runs from 0 to 1 over the move. Progress is 0 at the start pose and 1 at the end pose; a curve
may overshoot. Cubic Béziers follow CSS Easing Functions Level 1, its four keywords included.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

from standclear.timing.errors import TimingError

MOST_TICKS = 2_000


@dataclass(frozen=True, slots=True)
class CubicBezier:
    """A curve through (0, 0) and (1, 1) with two control points; x is time and lies in 0 to 1."""

    x1: float
    y1: float
    x2: float
    y2: float

    def __post_init__(self) -> None:
        if not all(
            math.isfinite(v) and abs(v) <= 100 for v in (self.x1, self.y1, self.x2, self.y2)
        ):
            raise TimingError("A Bézier's four numbers lie between -100 and 100.")
        if not (0 <= self.x1 <= 1 and 0 <= self.x2 <= 1):
            raise TimingError("A Bézier's first and third number (its times) lie between 0 and 1.")

    def __call__(self, time: float) -> float:
        if time < 0:
            return time * self._slope_before()
        if time > 1:
            return 1 + (time - 1) * self._slope_after()
        return _cubic(_solve(self.x1, self.x2, time), self.y1, self.y2)

    def _slope_before(self) -> float:
        """The tangent at the start, along which the curve goes on for times before 0."""
        if self.x1 > 0:
            return self.y1 / self.x1
        if self.y1 == 0 and self.x2 > 0:
            return self.y2 / self.x2
        return 1.0 if self.y1 == 0 and self.y2 == 0 else 0.0

    def _slope_after(self) -> float:
        """The tangent at the end, for times past 1."""
        if self.x2 < 1:
            return (self.y2 - 1) / (self.x2 - 1)
        if self.y2 == 1 and self.x1 < 1:
            return (self.y1 - 1) / (self.x1 - 1)
        return 1.0 if self.y2 == 1 and self.y1 == 1 else 0.0


@dataclass(frozen=True, slots=True)
class FreeFall:
    """Falling from rest: s = g t² / 2, so that equal times cover 1 : 3 : 5 : 7."""

    def __call__(self, time: float) -> float:
        return time * time


@dataclass(frozen=True, slots=True)
class Bounce:
    """A fall from rest, then ``times`` bounces, each rising to ``restitution``² of the last height.

    Progress 1 is the ground; the move ends on it. Restitution is the speed kept at each contact.
    """

    restitution: float = 0.6
    times: int = 3

    def __post_init__(self) -> None:
        if not 0 < self.restitution < 1:
            raise TimingError("A bounce keeps between 0 and 1 of its speed, such as 0.6.")
        if not 1 <= self.times <= 20:
            raise TimingError("A bounce touches down again 1 to 20 times.")

    @property
    def falls(self) -> float:
        """How long the whole lasts, in times of the first fall."""
        return 1 + 2 * sum(self.restitution**n for n in range(1, self.times + 1))

    def __call__(self, time: float) -> float:
        elapsed = min(max(time, 0.0), 1.0) * self.falls
        if elapsed <= 1:
            return elapsed * elapsed
        elapsed -= 1
        for bounce in range(1, self.times + 1):
            half = self.restitution**bounce
            if elapsed < 2 * half:
                return 1 - (half * half - (elapsed - half) ** 2)
            elapsed -= 2 * half
        return 1.0


@dataclass(frozen=True, slots=True)
class HandTicks:
    """Spacing set by hand: the progress at the end of each of n equal parts of the time."""

    ticks: tuple[float, ...]

    def __post_init__(self) -> None:
        if not 1 <= len(self.ticks) <= MOST_TICKS:
            raise TimingError(f"Spacing by hand needs 1 to {MOST_TICKS:,} ticks.")
        if not all(math.isfinite(tick) and abs(tick) <= 100 for tick in self.ticks):
            raise TimingError("Each tick is a share of the way, such as 0.25.")

    def __call__(self, time: float) -> float:
        place = min(max(time, 0.0), 1.0) * len(self.ticks)
        before = min(int(place), len(self.ticks) - 1)
        low = self.ticks[before - 1] if before else 0.0
        return low + (self.ticks[before] - low) * (place - before)


Easing = CubicBezier | FreeFall | Bounce | HandTicks

# The keywords of CSS Easing Functions Level 1, section 2.2.
LINEAR = CubicBezier(0, 0, 1, 1)
EASE_IN = CubicBezier(0.42, 0, 1, 1)
EASE_OUT = CubicBezier(0, 0, 0.58, 1)
EASE_BOTH = CubicBezier(0.42, 0, 0.58, 1)


def has_slow_part(easing: Easing, parts: int = 24) -> bool:
    """Whether some part of the time goes at less than half the mean speed."""
    progress = [easing(n / parts) for n in range(parts + 1)]
    steps = [abs(after - before) for before, after in pairwise(progress)]
    return min(steps) < 0.5 * sum(steps) / parts


def _cubic(s: float, first: float, second: float) -> float:
    """One coordinate of the Bézier (0, first, second, 1) at parameter s."""
    rest = 1 - s
    return 3 * rest * rest * s * first + 3 * rest * s * s * second + s**3


def _slope(s: float, first: float, second: float) -> float:
    rest = 1 - s
    return 3 * rest * rest * first + 6 * rest * s * (second - first) + 3 * s * s * (1 - second)


def _solve(x1: float, x2: float, x: float) -> float:
    """The parameter at which the curve's time is x: Newton, kept inside a shrinking bracket."""
    if x in (0, 1):
        return x
    low, high, s = 0.0, 1.0, x
    for _ in range(80):
        error = _cubic(s, x1, x2) - x
        if abs(error) < 1e-15 or high - low < 1e-16:
            break
        low, high = (low, s) if error > 0 else (s, high)
        slope = _slope(s, x1, x2)
        s = s - error / slope if slope > 1e-9 else (low + high) / 2
        if not low < s < high:
            s = (low + high) / 2
    return s
