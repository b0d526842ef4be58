"""Textures out of nothing but numbers: smooth noise, wood, plaster, cork. All seeded."""

import math

import cv2
import numpy as np
from numpy.typing import NDArray

Field = NDArray[np.float32]


def smooth_noise(
    rng: np.random.Generator, shape: tuple[int, int], cell: tuple[float, float]
) -> Field:
    """Noise of mean 0 and about unit spread whose lumps measure ``cell`` (rows, columns) pixels."""
    rows, columns = shape
    small = (max(4, int(rows / cell[0]) + 3), max(4, int(columns / cell[1]) + 3))
    coarse = rng.standard_normal(small, dtype=np.float32)
    field = cv2.resize(coarse, (columns, rows), interpolation=cv2.INTER_CUBIC)
    # Cubic enlargement of white noise keeps about 0.7 of its spread.
    field *= 1.0 / 0.7
    return np.asarray(field, np.float32)


def octaves(
    rng: np.random.Generator,
    shape: tuple[int, int],
    cell: tuple[float, float],
    count: int,
    fall: float = 0.5,
) -> Field:
    """A sum of ever finer noise, each ``fall`` times as strong as the one before."""
    total = np.zeros(shape, np.float32)
    for step in range(count):
        size = (cell[0] / 2**step, cell[1] / 2**step)
        total += fall**step * smooth_noise(rng, shape, size)
    total *= 1.0 / math.sqrt(sum(fall ** (2 * step) for step in range(count)))
    return np.asarray(total, np.float32)


def streaks(
    rng: np.random.Generator, shape: tuple[int, int], count: int, length: int, thick: int = 1
) -> Field:
    """Fine lines along the columns (wood's pores): 0 where there is none, up to 1."""
    canvas = np.zeros(shape, np.float32)
    rows = rng.integers(0, shape[0], count)
    starts = rng.integers(-length, shape[1], count)
    lengths = rng.integers(length // 4, length, count)
    strengths = rng.uniform(0.3, 1.0, count)
    for row, start, long, strength in zip(rows, starts, lengths, strengths, strict=True):
        canvas[row : row + thick, max(0, start) : max(0, start + long)] = strength
    return np.asarray(cv2.GaussianBlur(canvas, (0, 0), sigmaX=3.0, sigmaY=0.6), np.float32)


def wood(rng: np.random.Generator, shape: tuple[int, int], plank: int) -> tuple[Field, Field]:
    """Oiled oak boards along the columns, each ``plank`` pixels high.

    Returns the tone (0 dark to about 1 light wood) and the shade (a factor, dark in the joints).
    """
    rows, columns = shape
    tone = np.empty(shape, np.float32)
    for top in range(0, rows, plank):
        height = min(plank, rows - top)
        tone[top : top + height] = _board(rng, (height, columns))
    fleck = octaves(rng, (rows // 2, columns // 2), (2.2, 13.0), 2, 0.8)
    tone += 0.045 * cv2.resize(fleck, (columns, rows), interpolation=cv2.INTER_LINEAR)
    tone -= 0.42 * streaks(rng, shape, rows * columns // 1300, 110)
    tone -= 0.20 * streaks(rng, shape, rows * columns // 9000, 420, 2)
    return np.clip(tone, 0.0, 1.3), _seams(rows, columns, plank)


def _board(rng: np.random.Generator, shape: tuple[int, int]) -> Field:
    """The figure of one board: rings cut lengthwise, bent around a heart somewhere along it."""
    rows, columns = shape
    small = (rows // 4, columns // 4)
    bend = octaves(rng, small, (rows * 0.30, 190.0), 4, 0.42)
    along = np.linspace(-1.0, 1.0, small[1], dtype=np.float32)[None, :]
    bend += rng.uniform(1.2, 2.4) * (along - rng.uniform(-0.8, 0.8)) ** 2
    drift = smooth_noise(rng, small, (rows * 0.2, 130.0))
    bend, drift = (
        cv2.resize(a, (columns, rows), interpolation=cv2.INTER_LINEAR) for a in (bend, drift)
    )
    across = np.linspace(-1.0, 1.0, rows, dtype=np.float32)[:, None]
    rings = (across - rng.uniform(-0.6, 0.6)) * rng.uniform(5.0, 9.0) + 1.5 * bend
    # Late wood is a dark line that fades outward: a sawtooth, its back edge rounded.
    saw = rings - np.floor(rings)
    figure = saw * (2.0 - saw) * np.minimum(1.0, (1.0 - saw) * 7.0)
    return np.asarray(rng.uniform(0.30, 0.56) + 0.26 * (figure - 0.5) + 0.06 * drift, np.float32)


def _seams(rows: int, columns: int, plank: int) -> Field:
    """Dark joints between the boards, with a thin light on their edges."""
    row = np.arange(rows, dtype=np.float32)
    distance = np.abs(np.mod(row + plank / 2, plank) - plank / 2)
    dark = 1.0 - 0.86 * np.exp(-((distance / 2.6) ** 2))
    edge = 1.0 + 0.16 * np.exp(-(((distance - 8.0) / 3.0) ** 2))
    return np.repeat((dark * edge).astype(np.float32)[:, None], columns, axis=1)
