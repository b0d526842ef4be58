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
    search = _Search(profile, weights)
    coarse = search.best(np.arange(LEAST_CYCLES, rows / 4, STEP_CYCLES))
    if coarse is None:
        return None
    near = coarse.cycles + np.linspace(-STEP_CYCLES, STEP_CYCLES, 21)
    fine = search.best(near[near >= LEAST_CYCLES]) or coarse
    return _judged(min(coarse, fine, key=lambda tried: tried.left), weights, least_amplitude)


@dataclass(frozen=True)
class _Tried:
    """A sine of the search; ``left`` is the sum of squares beside it and the parabola."""

    cycles: float
    sine: float
    cosine: float
    left: float


class _Search:
    """Weighted least squares of a parabola and one sine, for many frequencies at once.

    The parabola is taken out of everything first, so that only two unknowns remain.
    """

    def __init__(self, profile: Doubles, weights: Doubles) -> None:
        rows = len(profile)
        self._at = (np.arange(rows) + 0.5) / rows
        self._weights = weights
        y = 2 * self._at - 1
        parabola = np.stack([np.ones(rows), y, y * y], axis=1) * weights[:, None]
        self._parabola = np.linalg.qr(parabola)[0]
        self._wanted = self._beside((profile * weights)[None, :])[0]

    def best(self, cycles: Doubles) -> _Tried | None:
        """The sine that leaves least; ``None`` when none can be fitted."""
        angle = 2 * np.pi * cycles[:, None] * self._at[None, :]
        sine = self._beside(np.sin(angle) * self._weights)
        cosine = self._beside(np.cos(angle) * self._weights)
        ss, sc, cc = (sine * sine).sum(1), (sine * cosine).sum(1), (cosine * cosine).sum(1)
        by_sine, by_cosine = sine @ self._wanted, cosine @ self._wanted
        determinant = ss * cc - sc * sc
        fits = determinant > 1e-9 * np.square(ss + cc)
        if not fits.any():
            return None
        whole = np.where(fits, determinant, 1.0)
        a = np.where(fits, (cc * by_sine - sc * by_cosine) / whole, 0.0)
        b = np.where(fits, (ss * by_cosine - sc * by_sine) / whole, 0.0)
        left = float(self._wanted @ self._wanted) - (a * by_sine + b * by_cosine)
        k = int(np.argmin(left))
        return _Tried(float(cycles[k]), float(a[k]), float(b[k]), max(float(left[k]), 0.0))

    def _beside(self, lines: Doubles) -> Doubles:
        """What of each line (n, rows) no parabola explains."""
        return np.asarray(lines - (lines @ self._parabola) @ self._parabola.T)


def _judged(tried: _Tried, weights: Doubles, least_amplitude: float) -> Wave | None:
    counted = int((weights > 0).sum())
    noise = np.sqrt(tried.left / max(counted - 6, 1))
    sd = float(noise * np.sqrt(2.0 / max(np.square(weights).sum(), 1.0)))
    wave = Wave(tried.cycles, tried.sine, tried.cosine, sd)
    return None if wave.amplitude < max(CLEAR_SD * sd, least_amplitude) else wave
