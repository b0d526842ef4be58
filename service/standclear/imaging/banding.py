"""A wave down the rows: mains light under a rolling shutter.

Source of the search: the Lomb-Scargle periodogram (J. D. Scargle, ApJ 263, 1982), that is least
squares of one sine at each of many frequencies.
"""

from dataclasses import dataclass

import numpy as np

from standclear.imaging.linear import Doubles

LEAST_CYCLES = 1.2
"""Fewer cycles over the picture cannot be told from light that falls off on one side."""

STEP_CYCLES = 0.25
CLEAR_SD = 6.0


@dataclass(frozen=True)
class Wave:
    """``sine`` and ``cosine`` amplitudes (natural log) at ``cycles`` over the picture's height."""

    cycles: float
    sine: float
    cosine: float
    amplitude_sd: float

    @property
    def amplitude(self) -> float:
        """From the middle to the crest, natural log of light."""
        return float(np.hypot(self.sine, self.cosine))

    def over(self, rows: int) -> Doubles:
        """The wave at each of ``rows`` block rows."""
        angle = 2 * np.pi * self.cycles * (np.arange(rows) + 0.5) / rows
        return np.asarray(self.sine * np.sin(angle) + self.cosine * np.cos(angle))


def find_wave(profile: Doubles, mass: Doubles, least_amplitude: float = 5e-4) -> Wave | None:
    """The strongest sine in a profile by rows, or ``None`` when none stands clear of the rest.

    ``mass`` weighs the rows. A parabola is fitted along with each sine.
    """
    rows = len(profile)
    if rows < 16 or mass.max() <= 0:
        return None
    weights = np.sqrt(np.minimum(mass / np.median(mass[mass > 0]), 1.0))
    weights[mass <= 0] = 0.0
    best: tuple[float, float, Doubles] | None = None
    for cycles in np.arange(LEAST_CYCLES, rows / 4, STEP_CYCLES):
        squared, solution = _try(profile, weights, float(cycles))
        if best is None or squared < best[0]:
            best = (squared, float(cycles), solution)
    if best is None:
        return None
    return _judged(best, _refined(profile, weights, best[1]), profile, weights, least_amplitude)


def _refined(profile: Doubles, weights: Doubles, cycles: float) -> tuple[float, float, Doubles]:
    tries = [cycles + d for d in np.linspace(-STEP_CYCLES, STEP_CYCLES, 21)]
    tries = [c for c in tries if c >= LEAST_CYCLES]
    fits = [(*_try(profile, weights, c), c) for c in tries]
    squared, solution, where = min(fits, key=lambda fit: fit[0])
    return squared, where, solution


def _judged(
    coarse: tuple[float, float, Doubles],
    fine: tuple[float, float, Doubles],
    profile: Doubles,
    weights: Doubles,
    least_amplitude: float,
) -> Wave | None:
    squared, cycles, solution = min(coarse, fine, key=lambda fit: fit[0])
    counted = int((weights > 0).sum())
    noise = np.sqrt(squared / max(counted - 6, 1))
    sd = float(noise * np.sqrt(2.0 / max(np.square(weights).sum(), 1.0)))
    wave = Wave(cycles, float(solution[3]), float(solution[4]), sd)
    if wave.amplitude < max(CLEAR_SD * sd, least_amplitude):
        return None
    return wave


def _try(profile: Doubles, weights: Doubles, cycles: float) -> tuple[float, Doubles]:
    rows = len(profile)
    at = (np.arange(rows) + 0.5) / rows
    y = 2 * at - 1
    angle = 2 * np.pi * cycles * at
    design = np.column_stack([np.ones(rows), y, y * y, np.sin(angle), np.cos(angle)])
    solution, *_ = np.linalg.lstsq(design * weights[:, None], profile * weights, rcond=None)
    left = (profile - design @ solution) * weights
    return float(left @ left), np.asarray(solution)
