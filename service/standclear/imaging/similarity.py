"""Similarity transforms of a picture about its own centre.

A similarity takes a point of the reference to where the same thing lies in another picture:
``p' = centre + scale * R(turn) (p - centre) + (shift_x, shift_y)``, x to the right, y downward, in
pixels; a positive turn is clockwise on the screen, because y points downward.
"""

from dataclasses import dataclass
from math import cos, degrees, exp, sin

import cv2
import numpy as np

from standclear.imaging.linear import Doubles, Floats


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
