"""A slow trend told apart from a sudden step, in a short series with outliers."""

from dataclasses import dataclass

import numpy as np

from standclear.imaging.linear import Doubles
from standclear.imaging.robust import slope

LEAST_ENTRIES = 8
STEP = "step"
DRIFT = "drift"
OPEN = "open"

LAMP_SD = 4e-4
"""Natural log of light by which good lamps scatter, as the default threshold of a step (six times
this) takes it."""

DECIDES = 8.0
"""Difference of chi-squared between two models with as many unknowns that decides for one of them:
odds of e^4, 55 to 1, for normal noise."""

FITS = 6.0
"""Chi-squared by degree of freedom up to which a series follows a line."""


@dataclass(frozen=True)
class Trend:
    """``per_exposure`` is the robust slope, ``sd`` its deviation, ``total`` the way over the
    series; ``kind`` names what describes the series better, a step or a drift."""

    per_exposure: float
    sd: float
    total: float
    kind: str

    @property
    def is_sure(self) -> bool:
        """Whether the slope stands clear of the scatter."""
        return abs(self.per_exposure) > 4.0 * self.sd


NO_TREND = Trend(0.0, float("inf"), 0.0, STEP)


def trend(values: Doubles) -> Trend:
    """The trend of a series with one value an exposure; `NO_TREND` when it is too short."""
    count = len(values)
    if count < LEAST_ENTRIES:
        return NO_TREND
    places = np.arange(count, dtype=np.float64)
    steepness, sd = slope(places, values)
    line = values - steepness * places
    by_line = float(np.abs(line - np.median(line)).sum())
    kind = STEP if _by_step(values) < 0.85 * by_line else DRIFT
    return Trend(steepness, sd, steepness * (count - 1), kind)


def straight(values: Doubles, sd: float) -> Trend:
    """The drift of a series that is known to be one, by least squares; ``sd`` of its noise."""
    places = np.arange(len(values)) - (len(values) - 1) / 2
    spread = float(places @ places)
    steepness = float(places @ values) / spread
    return Trend(steepness, sd / spread**0.5, steepness * (len(values) - 1), DRIFT)


def evidence(values: Doubles, sd: float) -> str:
    """Whether a short series (one value an exposure) is a `STEP`, a `DRIFT`, or `OPEN` to both.

    A line and the best two levels have as many unknowns, so their chi-squared under noise of ``sd``
    can be compared. Two values fit either: going from one to the other is a step.
    """
    if len(values) < 3:
        return STEP
    line, step = (left / sd**2 for left in (_squared_by_line(values), _squared_by_step(values)))
    if line - step > DECIDES or line > FITS * (len(values) - 2):
        return STEP
    return DRIFT if step - line > DECIDES else OPEN


def biggest_jump(values: Doubles) -> float:
    """The largest change between the medians of up to three entries before and after a place."""
    jumps = [
        abs(float(np.median(values[i : i + 3]) - np.median(values[max(i - 3, 0) : i])))
        for i in range(1, len(values))
    ]
    return max(jumps, default=0.0)


def _by_step(values: Doubles) -> float:
    """What the best two levels leave, as a sum of absolute residuals."""
    best = float(np.abs(values - np.median(values)).sum())
    for i in range(1, len(values)):
        before, after = values[:i], values[i:]
        left = np.abs(before - np.median(before)).sum() + np.abs(after - np.median(after)).sum()
        best = min(best, float(left))
    return best


def _squared_by_line(values: Doubles) -> float:
    places = np.arange(len(values)) - (len(values) - 1) / 2
    left = values - values.mean() - straight(values, 0.0).per_exposure * places
    return float(left @ left)


def _squared_by_step(values: Doubles) -> float:
    """What the best two levels leave, as a sum of squares."""
    return min(
        float(values[:i].var() * i + values[i:].var() * (len(values) - i))
        for i in range(1, len(values))
    )
