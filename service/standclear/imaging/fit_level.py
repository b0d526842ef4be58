"""One size of a reference, and the sums over its blocks that a direct fit is made of."""

from dataclasses import dataclass

import numpy as np

from standclear.imaging.linear import Doubles, Floats


@dataclass(frozen=True)
class Level:
    """One size of the reference, with all that a fit needs of it.

    ``hessian`` holds for each block the sums of gx gx, gx gy, gy gy; ``x``, ``y`` the blocks'
    centres relative to the picture's centre, in units of ``reach`` (half the width, in pixels).
    """

    picture: Floats
    gx: Floats
    gy: Floats
    block: int
    hessian: tuple[Floats, Floats, Floats]
    x: Floats
    y: Floats
    reach: float


def basis(level: Level, sx: Floats, sy: Floats) -> Doubles:
    """Block sums along x and y → the four parameters' sums, (4, blocks); turn and scale × reach."""
    return (
        np.stack([sx, sy, level.x * sy - level.y * sx, level.x * sx + level.y * sy])
        .reshape(4, -1)
        .astype(np.float64)
    )


def normal_matrix(level: Level, hessian: tuple[Floats, Floats, Floats], weights: Floats) -> Doubles:
    """4 x 4 sum over blocks of w J'J, with the blocks' centres standing for their pixels."""
    xx, xy, yy = (h.astype(np.float64) * weights for h in hessian)
    one = np.ones_like(xx)
    zero = np.zeros_like(xx)
    jx = np.stack([one, zero, -level.y, level.x]).reshape(4, -1)
    jy = np.stack([zero, one, level.x, level.y]).reshape(4, -1)
    cross = (jx * xy.ravel()) @ jy.T
    normal: Doubles = (jx * xx.ravel()) @ jx.T + cross + cross.T + (jy * yy.ravel()) @ jy.T
    return normal
