"""Where things on the table appear in the picture: one pinhole camera, known exactly.

Table coordinates are millimetres: x to the right, y away from the camera, z up, the origin in the
middle of the stage. Picture coordinates are pixels, x to the right, y down, with the *centre* of
the first pixel at (0, 0) (OpenCV's convention). The model is the pinhole camera of Hartley and
Zisserman, *Multiple View Geometry in Computer Vision*, 2nd ed., chapter 6.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Matrix = NDArray[np.float64]

#: Size of a still, in pixels.
STILL = (1920, 1080)
#: Size of a live picture, in pixels.
LIVE = (1280, 720)
#: The camera's place and what it looks at, in mm on the table.
CAMERA_AT = (0.0, -420.0, 215.0)
LOOKS_AT = (0.0, 45.0, 26.0)
#: Focal length in pixels of a still.
FOCAL_PX = 3050.0


@dataclass(frozen=True, slots=True)
class RigShift:
    """How far the camera was moved from where it stood, as the picture shows it.

    A point that was at p (px of a still, from the picture's centre) is now at
    scale · R(turn) · p + (x, y), with a positive turn clockwise on the screen.
    """

    x_px: float = 0.0
    y_px: float = 0.0
    turn_deg: float = 0.0
    scale: float = 1.0

    def matrix(self) -> Matrix:
        """The 3×3 similarity in pixels of a still."""
        cx, cy = (STILL[0] - 1) / 2, (STILL[1] - 1) / 2
        a = math.radians(self.turn_deg)
        c, s = self.scale * math.cos(a), self.scale * math.sin(a)
        return np.array(
            [
                [c, -s, cx - c * cx + s * cy + self.x_px],
                [s, c, cy - s * cx - c * cy + self.y_px],
                [0.0, 0.0, 1.0],
            ]
        )

    def plus(self, other: "RigShift") -> "RigShift":
        """Both, added part by part (exact enough for shifts of a few pixels)."""
        return RigShift(
            self.x_px + other.x_px,
            self.y_px + other.y_px,
            self.turn_deg + other.turn_deg,
            self.scale * other.scale,
        )


STEADY = RigShift()


@lru_cache(maxsize=1)
def projection() -> Matrix:
    """The 3×4 matrix that takes (x, y, z, 1) in mm to homogeneous pixels of a still."""
    eye, at = np.array(CAMERA_AT), np.array(LOOKS_AT)
    forward = (at - eye) / np.linalg.norm(at - eye)
    right = np.cross(forward, (0.0, 0.0, 1.0))
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    turn = np.stack([right, down, forward])
    lens = np.array(
        [
            [FOCAL_PX, 0.0, (STILL[0] - 1) / 2],
            [0.0, FOCAL_PX, (STILL[1] - 1) / 2],
            [0.0, 0.0, 1.0],
        ]
    )
    whole = np.asarray(lens @ np.hstack([turn, -(turn @ eye)[:, None]]))
    whole.setflags(write=False)
    return whole


def resize_matrix(width: int, height: int) -> Matrix:
    """From pixels of a still to pixels of a picture of another size (pixel centres at integers)."""
    sx, sy = width / STILL[0], height / STILL[1]
    return np.array([[sx, 0.0, (sx - 1) / 2], [0.0, sy, (sy - 1) / 2], [0.0, 0.0, 1.0]])


def table_to_picture(
    width: int = STILL[0], height: int = STILL[1], rig: RigShift = STEADY
) -> Matrix:
    """The 3×3 homography from the table (mm, z = 0) to a picture of that size, exactly."""
    flat = projection()[:, (0, 1, 3)]
    whole = resize_matrix(width, height) @ rig.matrix() @ flat
    return np.asarray(whole / whole[2, 2])


def project(points_mm: Matrix, rig: RigShift = STEADY) -> Matrix:
    """Points (N×3, mm) to pixels of a still (N×2)."""
    ones = np.ones((len(points_mm), 1))
    seen = (rig.matrix() @ projection() @ np.hstack([points_mm, ones]).T).T
    return np.asarray(seen[:, :2] / seen[:, 2:])


def eye_and_back(rig: RigShift = STEADY) -> tuple[Matrix, Matrix]:
    """The eye (3, mm) and the 3×3 matrix from a still's pixel (x, y, 1) to its ray's direction."""
    whole = rig.matrix() @ projection()
    back = np.linalg.inv(whole[:, :3])
    return np.asarray(-back @ whole[:, 3]), np.asarray(back)
