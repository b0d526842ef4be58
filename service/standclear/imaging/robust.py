"""Robust estimates: median absolute deviation, a linear fit with Tukey's biweight, a slope.

Sources: P. J. Huber, E. M. Ronchetti, "Robust Statistics" (2009); P. K. Sen, "Estimates of the
regression coefficient based on Kendall's tau" (JASA 63, 1968).
"""

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from standclear.imaging.linear import Doubles, Mask

MAD_TO_SD = 1.4826
"""Makes the median absolute deviation of a normal distribution its standard deviation."""

BIWEIGHT_CUT = 4.685
"""Tukey's constant: 95 % efficiency for normal noise."""

SMALLEST_SD = 1e-5
RIDGE = 1e-9
EXPECTED_WEIGHT = 50.0
"""How many independent entries an expectation outweighs: noise of neighbours is not independent."""

TONE_BINS = 8


@dataclass(frozen=True)
class Solution:
    """Coefficients, their sandwich covariance, and by entry the weight and the noise's sd."""

    values: Doubles
    covariance: Doubles = field(repr=False)
    weights: Doubles = field(repr=False)
    noise: Doubles = field(repr=False)


def robust_sd(values: Doubles) -> float:
    """Standard deviation by the median absolute deviation from the median; 0 for no values."""
    if values.size == 0:
        return 0.0
    return float(MAD_TO_SD * np.median(np.abs(values - np.median(values))))


def clipped_mean(values: Doubles, weights: Doubles, least: float) -> tuple[float, float]:
    """Weighted mean without what lies beyond four robust deviations, and its standard deviation.

    What lies within ``least`` of the median is never left out.
    """
    middle = float(np.median(values))
    near = np.abs(values - middle) <= max(4.0 * robust_sd(values), least)
    mass = float(weights[near].sum())
    mean = float((weights[near] * values[near]).sum() / mass)
    scores = weights[near] * (values[near] - mean)
    return mean, float(np.sqrt(np.square(scores).sum())) / mass


def biweight_fit(
    design: Doubles,
    wanted: Doubles,
    prior: Doubles,
    tone: Doubles,
    *,
    floor: Doubles,
    expected: Doubles,
) -> Solution:
    """Iteratively reweighted least squares of ``design @ values = wanted``.

    ``prior`` weighs entries from the start. The noise is taken to depend on ``tone`` alone and is
    measured in bins of it, but never below ``floor``. Starts from the median (the first column is
    taken for the level, all other coefficients are 0). ``expected`` holds by coefficient how far
    from 0 it may well lie, infinite where nothing is known: what the entries cannot tell apart is
    then not given wild values that cancel.
    """
    values = np.zeros(design.shape[1])
    values[0] = np.median(wanted)
    noise = floor
    weights = prior
    for step in range(14):
        left = wanted - design @ values
        if step in {3, 6, 9}:
            noise = _noise_by_tone(left, tone, weights > 0 if step > 3 else prior > 0)
        elif step < 3:
            noise = np.full(wanted.size, robust_sd(left))
        noise = np.maximum(noise, floor)
        ratio = np.square(left / (BIWEIGHT_CUT * noise))
        weights = prior * np.square(np.clip(1.0 - ratio, 0.0, 1.0)) / np.square(noise)
        changed = _solve(design, wanted, weights, expected)
        done = np.abs(changed - values).max() < 1e-7
        values = changed
        if done and step > 9:
            break
    return Solution(values, _sandwich(design, wanted - design @ values, weights), weights, noise)


def _solve(design: Doubles, wanted: Doubles, weights: Doubles, expected: Doubles) -> Doubles:
    weighted = design * weights[:, None]
    normal = design.T @ weighted
    normal += np.diag(EXPECTED_WEIGHT / np.square(expected))
    normal += np.eye(len(normal)) * (RIDGE * np.trace(normal) / len(normal) + 1e-12)
    return np.asarray(np.linalg.solve(normal, weighted.T @ wanted))


def _sandwich(design: Doubles, left: Doubles, weights: Doubles) -> Doubles:
    normal = design.T @ (design * weights[:, None])
    inverse = np.linalg.pinv(normal, hermitian=True)
    scores = design * (weights * left)[:, None]
    return np.asarray(inverse @ (scores.T @ scores) @ inverse)


def _noise_by_tone(left: Doubles, tone: Doubles, counted: Mask) -> Doubles:
    """Robust sd in bins of tone, drawn as a line between their middles, kept near the whole's."""
    whole = max(robust_sd(left[counted]), SMALLEST_SD)
    edges = np.quantile(tone[counted], np.linspace(0, 1, TONE_BINS + 1))
    middles, spreads = [], []
    for low, high in pairwise(edges):
        inside = counted & (tone >= low) & (tone <= high)
        if inside.sum() >= 20:
            middles.append((low + high) / 2)
            spreads.append(np.clip(robust_sd(left[inside]), 0.3 * whole, 4.0 * whole))
    if not middles:
        return np.full(left.size, whole)
    return np.asarray(np.maximum(np.interp(tone, middles, spreads), SMALLEST_SD))


def slope(places: Doubles, values: Doubles) -> tuple[float, float]:
    """Median of the slopes of all pairs, and its standard deviation from the residuals' spread."""
    i, j = np.triu_indices(len(places), k=1)
    apart = places[j] - places[i]
    kept = apart != 0
    if not kept.any():
        return 0.0, float("inf")
    middle = float(np.median((values[j] - values[i])[kept] / apart[kept]))
    left = values - middle * places
    spread = robust_sd(left) / max(float(np.sqrt(np.sum(np.square(places - places.mean())))), 1e-12)
    return middle, spread
