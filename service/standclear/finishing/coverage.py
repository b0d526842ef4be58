"""Where a moved picture covers the film, and another's picture where it does not.

What is not covered lies along the edges, so only a rim of the film is worked out.
"""

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float32]
Doubles = npt.NDArray[np.float64]


def coverage(to_source: Doubles, size: tuple[int, int], shape: tuple[int, ...]) -> Floats:
    """1 where the source covers a pixel of the film, falling to 0 within a pixel of its edge.

    ``to_source`` (2, 3) leads from a pixel of the film, ``size`` its width and height, to the
    source's, whose shape is ``shape``. The result is (height, width).
    """

    def all_covered_from(deep: int) -> bool:
        # What is covered is convex, so it is enough that the four corners of the inner part are.
        x, y = (np.array([deep, length - 1 - deep], dtype=float) for length in size)
        return bool(_inside(to_source, x, y, shape).min() >= 1.5)

    x, y = (np.arange(length, dtype=float) for length in size)
    covered = np.ones((size[1], size[0]), np.float32)
    for rows, columns in _rim(covered, all_covered_from):
        inside = _inside(to_source, x[columns], y[rows], shape)
        covered[rows, columns] = np.clip(inside - 0.5, 0.0, 1.0)
    return covered


def filled(shown: Floats, covered: Floats, other: Floats, other_covered: Floats) -> Floats:
    """``shown`` with ``other`` where it does not cover; both it and ``covered`` are changed."""

    def all_covered_from(deep: int) -> bool:
        return bool(covered[deep:-deep, deep:-deep].min() >= 1.0)

    for area in _rim(covered, all_covered_from):
        part = ((1.0 - covered[area]) * other_covered[area])[:, :, None]
        shown[area] += (other[area] - shown[area]) * part
        np.maximum(covered[area], other_covered[area], out=covered[area])
    return shown


def plane(coefficients: Doubles, x: Doubles, y: Doubles) -> Floats:
    """a x + b y + c at each column x and row y. Only the sum is made in single precision."""
    a, b, c = coefficients
    along, down = (a * x + c).astype(np.float32), (b * y).astype(np.float32)
    return np.asarray(np.add.outer(down, along))


def _inside(to_source: Doubles, x: Doubles, y: Doubles, shape: tuple[int, ...]) -> Floats:
    """How far inside the source's frame, half a pixel wider than its centres, each pixel lies."""
    across, down = plane(to_source[0], x, y), plane(to_source[1], x, y)
    return np.minimum(
        np.minimum(across + 1, shape[1] - across), np.minimum(down + 1, shape[0] - down)
    )


def _rim(film: Floats, all_covered_from: Callable[[int], bool]) -> list[tuple[slice, slice]]:
    """The four bands along the film's edges, none twice, within which all is covered; the whole
    film where that cannot be said."""
    height, width = film.shape
    most = min(width, height) // 2
    deep = 1
    while deep < most and not all_covered_from(deep):
        deep *= 2
    if deep >= most:
        return [(slice(None), slice(None))]
    between = slice(deep, height - deep)
    return [
        (slice(0, deep), slice(None)),
        (slice(height - deep, None), slice(None)),
        (between, slice(0, deep)),
        (between, slice(width - deep, None)),
    ]
