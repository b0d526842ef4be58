"""A live picture made ready for measuring, and its blocks.

Everything about hands is measured on a picture at most :data:`WIDTH` wide and lightly smoothed,
and told in *blocks* of :data:`BLOCK` × :data:`BLOCK` of its pixels: small enough for a finger,
large enough that noise averages out.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]
"""(h, w, 3) codes, blue, green, red."""

Plane = NDArray[np.uint8]
"""(h, w) codes."""

Blocks = NDArray[np.float32]
"""(rows, columns) or (rows, columns, 3): means over blocks."""

Mask = NDArray[np.bool_]

WIDTH = 640
BLOCK = 4


def prepare(pixels: Picture) -> Picture:
    """The picture at most :data:`WIDTH` px wide, whole blocks wide and high, smoothed over 3×3 px
    (H×W×3, BGR codes)."""
    height, width = pixels.shape[:2]
    scale = min(1.0, WIDTH / width)
    size = (_whole(width * scale), _whole(height * scale))
    if size != (width, height):
        pixels = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8)
    return np.asarray(cv2.blur(pixels, (3, 3)), np.uint8)


def _whole(px: float) -> int:
    """The nearest number of px that makes whole blocks."""
    return BLOCK * max(1, round(px / BLOCK))


def grid(shape: tuple[int, ...]) -> tuple[int, int]:
    """(columns, rows) of blocks in a picture of that shape (h, w, ...)."""
    return max(1, shape[1] // BLOCK), max(1, shape[0] // BLOCK)


def block_means(picture: NDArray[np.uint8]) -> Blocks:
    """Means over blocks, in codes; channels stay apart."""
    # Halved twice: OpenCV does that four times as fast as a quarter at once.
    columns, rows = grid(picture.shape)
    half = cv2.resize(picture, (2 * columns, 2 * rows), interpolation=cv2.INTER_AREA)
    small = cv2.resize(half, (columns, rows), interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.float32)


def brighter(picture: Picture, factor: float) -> Picture:
    """The picture with its codes times ``factor`` (clipped)."""
    if abs(factor - 1.0) < 0.0015:
        return picture
    return np.asarray(cv2.convertScaleAbs(picture, alpha=factor), np.uint8)


def largest_channel(picture: Picture) -> Plane:
    """The largest of the three channels at each pixel."""
    blue, green, red = cv2.split(picture)
    return np.asarray(cv2.max(cv2.max(blue, green), red), np.uint8)


def grey(picture: Picture) -> Plane:
    """Luma (BT.601 weights, as OpenCV has them): enough to see movement."""
    return np.asarray(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY), np.uint8)


def share_of_blocks(exceeds: Plane) -> Blocks:
    """For a 0/255 mask: what share (0 to 1) of each block is set."""
    return block_means(exceeds) / np.float32(255.0)


def light_blocks(luma: Plane) -> Blocks:
    """Means over blocks of luma: what :func:`gain_between` compares."""
    return block_means(luma)


def gain_between(now: Blocks, then: Blocks) -> float:
    """By what factor the codes of ``now`` are brighter than those of ``then``, from the median
    block, so that a hand or an object over less than half the picture changes nothing.

    Both are blocks of luma. A power-law tone curve turns a change of light into one factor on the
    codes; the darkest and the clipped blocks, where that fails, are left out.
    """
    new, old = now[::3, ::3], then[::3, ::3]
    fit = (old > 25.0) & (old < 235.0) & (new < 250.0)
    if np.count_nonzero(fit) < 20:
        return 1.0
    return float(np.median(new[fit] / old[fit]))
