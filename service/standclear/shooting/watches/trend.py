"""A slow trend told apart from a sudden step, in a short series with outliers."""

from dataclasses import dataclass

import numpy as np

from standclear.imaging.linear import Doubles
from standclear.imaging.robust import slope

LEAST_ENTRIES = 8
STEP = "step"
DRIFT = "drift"


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
