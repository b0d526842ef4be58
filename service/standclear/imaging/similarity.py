"""Similarity transforms of a picture about its own centre.

A similarity takes a point of the reference to where the same thing lies in another picture:
``p' = centre + scale * R(turn) (p - centre) + (shift_x, shift_y)``, x to the right, y downward, in
pixels; a positive turn is clockwise on the screen, because y points downward.
"""

from dataclasses import dataclass
from math import cos, degrees, exp, sin

import cv2
import numpy as np

from standclear.imaging.linear import Doubles, Floats, Mask


@dataclass(frozen=True)
class Similarity:
    """Shift in pixels, turn in radians, natural logarithm of the scale."""

    shift_x: float = 0.0
    shift_y: float = 0.0
    turn: float = 0.0
    log_scale: float = 0.0

    @property
    def turn_deg(self) -> float:
        """The turn in degrees."""
        return degrees(self.turn)

    @property
    def scale(self) -> float:
        """1 when the size is kept."""
        return exp(self.log_scale)

    def resized(self, factor: float) -> "Similarity":
        """The same motion, in a picture whose sides are ``factor`` times as long."""
        return Similarity(self.shift_x * factor, self.shift_y * factor, self.turn, self.log_scale)

    def inverse(self) -> "Similarity":
        """The motion back."""
        c, s = cos(self.turn) / self.scale, -sin(self.turn) / self.scale
        return Similarity(
            -(c * self.shift_x - s * self.shift_y),
            -(s * self.shift_x + c * self.shift_y),
            -self.turn,
            -self.log_scale,
        )

    def matrix(self, shape: tuple[int, ...]) -> Doubles:
        """2 x 3 matrix from reference to picture coordinates, for pictures of ``shape`` (h, w)."""
        x, y = centre(shape)
        c, s = self.scale * cos(self.turn), self.scale * sin(self.turn)
        return np.array(
            [
                [c, -s, x - c * x + s * y + self.shift_x],
                [s, c, y - s * x - c * y + self.shift_y],
            ]
        )

    def displacement(self, points: Doubles, shape: tuple[int, ...]) -> Doubles:
        """How far each of (n, 2) reference points (x, y) moves, (n, 2) in pixels."""
        matrix = self.matrix(shape)
        return points @ matrix[:, :2].T + matrix[:, 2] - points

    def relative_to(self, other: "Similarity") -> "Similarity":
        """This motion as seen from ``other`` (exact for small turns and scales)."""
        return Similarity(
            self.shift_x - other.shift_x,
            self.shift_y - other.shift_y,
            self.turn - other.turn,
            self.log_scale - other.log_scale,
        )


IDENTITY = Similarity()


def centre(shape: tuple[int, ...]) -> tuple[float, float]:
    """The point (x, y) that a similarity turns about: half of width and height.

    Halved sizes keep it in place: pixel i of a picture that was halved by ``cv2.pyrDown`` lies on
    pixel 2 i of the larger one.
    """
    return shape[1] / 2.0, shape[0] / 2.0


def brought_onto_reference(picture: Floats, motion: Similarity) -> Floats:
    """``picture`` (h, w[, 3]) resampled so that it lies on the reference; edges are repeated.

    Linear interpolation: cubic and Lanczos kernels of OpenCV displace content at fractional
    positions, the linear one does not (measured; OpenCV 5 computes its coordinates in floats).
    """
    height, width = picture.shape[:2]
    warped = cv2.warpAffine(
        picture,
        motion.matrix(picture.shape),
        (width, height),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(warped, dtype=np.float32)


def brought_sharply(picture: Floats, motion: Similarity) -> Floats:
    """As `brought_onto_reference`, (h, w), with the interpolation's blur taken back.

    Linear interpolation at a fraction f blurs by a variance of f (1 - f) along each axis; half of
    that times the second difference is subtracted again (heat equation), pixel by pixel.
    """
    plain = brought_onto_reference(picture, motion)
    matrix = motion.matrix(picture.shape).astype(np.float32)
    x = np.arange(picture.shape[1], dtype=np.float32)[None, :]
    y = np.arange(picture.shape[0], dtype=np.float32)[:, None]
    sharp = plain.copy()
    for axis in range(2):
        at = matrix[axis, 0] * x + matrix[axis, 1] * y + matrix[axis, 2]
        part = at - np.floor(at)
        kernel = np.array([[1.0, -2.0, 1.0]], dtype=np.float32)
        bent = cv2.filter2D(plain, -1, kernel if axis == 0 else kernel.T)
        sharp -= 0.5 * part * (1.0 - part) * bent
    return sharp


def covered(shape: tuple[int, ...], motion: Similarity, grid: tuple[int, int], rim: float) -> Mask:
    """Cells of a grid (rows, columns) over the reference that lie in the moved picture whole.

    ``rim`` pixels at the moved picture's border do not count. Everything counts when nothing moved.
    """
    if motion == IDENTITY:
        return np.ones(grid, dtype=bool)
    cell_y, cell_x = shape[0] / grid[0], shape[1] / grid[1]
    x, y = np.meshgrid((np.arange(grid[1]) + 0.5) * cell_x, (np.arange(grid[0]) + 0.5) * cell_y)
    points = np.stack([x.ravel(), y.ravel()], axis=1)
    moved = points + motion.displacement(points, shape)
    edge = np.array([cell_x / 2 + rim, cell_y / 2 + rim])
    size = np.array([shape[1], shape[0]])
    inside = np.all((moved >= edge) & (moved <= size - edge), axis=1)
    return np.asarray(inside.reshape(grid), dtype=bool)
