"""The part of a picture that registration and sharpness look at: log light, band-passed.

In the logarithm a change of light is an added constant (or a slow field), and the band-pass takes
it away, together with the finest noise. What stays is texture, whatever the light does.
"""

from collections.abc import Sequence

import cv2
import numpy as np

from standclear.imaging.linear import Floats, Pixels, bits_of, log_table, look_up

LOG_OFFSET = 0.03
"""Added to linear light before the logarithm: keeps the noise of the darks from being blown up
(shot noise then stays within a factor of about two over the range)."""

CHANNEL_WEIGHTS_BGR = (0.2, 0.55, 0.25)
"""How much each channel's logarithm counts. Not luminance: a compromise between the channels'
texture and their noise; any positive weights give an unbiased registration."""

FINE_SIGMA_PX = 1.1
"""Gaussian that takes away the finest noise, in pixels of the level."""


def log_light(pixels: Pixels) -> Floats:
    """Weighted mean of the channels' ``log(linear + offset)``, (h, w, 3) or (h, w) → (h, w)."""
    logs = look_up(pixels, log_table(bits_of(pixels), LOG_OFFSET))
    if logs.ndim == 2:
        return logs
    weights = np.array([CHANNEL_WEIGHTS_BGR], dtype=np.float32)
    return np.asarray(cv2.transform(logs, weights), dtype=np.float32)


def band_passed(log_picture: Floats) -> Floats:
    """Difference of a fine Gaussian (1.1 px) and a coarse one (about 6 px), same shape."""
    smooth = cv2.GaussianBlur(log_picture, (7, 7), FINE_SIGMA_PX)
    half = cv2.pyrDown(log_picture)
    quarter = cv2.GaussianBlur(cv2.pyrDown(half), (0, 0), 1.0)
    coarse = cv2.pyrUp(quarter, dstsize=(half.shape[1], half.shape[0]))
    height, width = log_picture.shape
    return np.asarray(smooth - cv2.pyrUp(coarse, dstsize=(width, height)), dtype=np.float32)


def pyramid(log_picture: Floats, smallest_width: int = 200) -> tuple[Floats, ...]:
    """Band-passed levels, finest first, each half as wide as the one before."""
    levels = []
    current = log_picture
    while True:
        levels.append(band_passed(current))
        if current.shape[1] < 2 * smallest_width:
            return tuple(levels)
        current = np.asarray(cv2.pyrDown(current), dtype=np.float32)


def gradients(picture: Floats) -> tuple[Floats, Floats]:
    """Central differences along x and y, per pixel."""
    along = np.array([-0.5, 0.0, 0.5], dtype=np.float32)
    across = np.array([1.0], dtype=np.float32)
    gx = cv2.sepFilter2D(picture, -1, along, across)
    gy = cv2.sepFilter2D(picture, -1, across, along)
    return np.asarray(gx, dtype=np.float32), np.asarray(gy, dtype=np.float32)


def block_size(width: int, columns: int = 40, smallest: int = 8) -> int:
    """Side of the square blocks that divide a picture of ``width`` into about ``columns``."""
    return max(smallest, round(width / columns))


def block_sums(pictures: Sequence[Floats], size: int) -> Floats:
    """Sum over blocks of the product of one or two pictures; ragged edges are left out.

    (h, w) → (h // size, w // size).
    """
    rows, columns = pictures[0].shape[0] // size, pictures[0].shape[1] // size
    cut = [p[: rows * size, : columns * size].reshape(rows, size, columns, size) for p in pictures]
    subscripts = ",".join(["iajb"] * len(cut)) + "->ij"
    return np.asarray(np.einsum(subscripts, *cut), dtype=np.float32)


def block_centres(shape: tuple[int, ...], size: int) -> tuple[Floats, Floats]:
    """x and y of the blocks' centres relative to the picture's centre, each (rows, columns)."""
    rows, columns = shape[0] // size, shape[1] // size
    x = (np.arange(columns, dtype=np.float32) + 0.5) * size - 0.5 - shape[1] / 2
    y = (np.arange(rows, dtype=np.float32) + 0.5) * size - 0.5 - shape[0] / 2
    grid_x, grid_y = np.meshgrid(x, y)
    return grid_x.astype(np.float32), grid_y.astype(np.float32)
