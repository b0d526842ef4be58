"""Textures out of nothing but numbers: smooth noise, wood, plaster, cork. All seeded."""

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
    return np.asarray(field / max(1e-6, float(field.std())), np.float32)


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
    return np.asarray(total / float(total.std()), np.float32)


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
    tone = np.zeros(shape, np.float32)
    for top in range(0, rows, plank):
        height = min(plank, rows - top)
        tone[top : top + height] = _board(rng, (height, columns))
    pores = streaks(rng, shape, rows * columns // 1500, 90)
    fleck = octaves(rng, shape, (5.0, 16.0), 2, 0.8)
    tone += 0.055 * fleck - 0.36 * pores
    return np.clip(tone, 0.0, 1.3), _seams(rows, columns, plank)


def _board(rng: np.random.Generator, shape: tuple[int, int]) -> Field:
    """The figure of one board: rings cut lengthwise, bent around a heart somewhere along it."""
    rows, columns = shape
    bend = octaves(rng, shape, (rows * 1.1, 900.0), 3, 0.45)
    across = np.linspace(-1.0, 1.0, rows, dtype=np.float32)[:, None]
    heart = rng.uniform(-0.6, 0.6)
    rings = (across - heart) * rng.uniform(9.0, 15.0) + bend * rng.uniform(1.0, 1.9)
    figure = np.abs(np.mod(rings, 1.0) - 0.5) * 2.0
    figure = np.power(figure, 1.6)
    drift = smooth_noise(rng, shape, (rows * 0.8, 500.0))
    return np.asarray(rng.uniform(0.40, 0.58) + 0.21 * (figure - 0.4) + 0.05 * drift, np.float32)


def _seams(rows: int, columns: int, plank: int) -> Field:
    """Dark joints between the boards, with a thin light on their edges."""
    row = np.arange(rows, dtype=np.float32)
    distance = np.abs(np.mod(row + plank / 2, plank) - plank / 2)
    dark = 1.0 - 0.86 * np.exp(-((distance / 2.6) ** 2))
    edge = 1.0 + 0.16 * np.exp(-(((distance - 8.0) / 3.0) ** 2))
    return np.repeat((dark * edge).astype(np.float32)[:, None], columns, axis=1)
