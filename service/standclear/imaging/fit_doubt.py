"""How well a direct fit is known, or that nothing ties it down.

Source of the sandwich covariance: P. J. Huber, E. M. Ronchetti, "Robust Statistics" (2009).
"""

import numpy as np

from standclear.imaging.fit_level import Level, basis, normal_matrix
from standclear.imaging.linear import Doubles, Floats
from standclear.imaging.texture import block_sums, gradients

LEAST_HOLDING = 0.06
"""Where less than this part of the blocks holds the texture, it may be the edges of what moves that
tie the fit down: 0.02 to 0.03 before a plain wall, 0.3 and more before textures (measured)."""

SYSTEMATIC_PX = 0.003
"""What sampling, resampling and JPEG blocks leave in a shift beside noise (measured)."""

NOISE_PLACE_PX = 8.0
"""Pixels over which the band-passed gradient's noise hangs together (measured on white noise)."""


def covariance(level: Level, aligned: Floats, residual: Floats, weights: Floats) -> Doubles | None:
    """Sandwich covariance; ``None`` when the texture common to both pictures is not above noise.

    The information is the sum of products of the two pictures' gradients: noise, which they do not
    share, drops out of it. The scatter of the blocks' own scores stands for the noise, so that its
    correlation from pixel to pixel needs no model.
    """
    gx, gy = gradients(aligned)
    shared = (
        block_sums((level.gx, gx), level.block),
        _mean(block_sums((level.gx, gy), level.block), block_sums((level.gy, gx), level.block)),
        block_sums((level.gy, gy), level.block),
    )
    information = normal_matrix(level, shared, weights)
    doubt = _information_doubt(level, (level.gx - gx, level.gy - gy), weights)
    smallest = float(np.linalg.eigvalsh(information[:2, :2])[0])
    if smallest <= 4.0 * doubt or np.linalg.eigvalsh(information)[0] <= 0.0:
        return None
    if _holding(shared, weights) < LEAST_HOLDING:
        return None
    sx = block_sums((_mean(level.gx, gx), residual), level.block)
    sy = block_sums((_mean(level.gy, gy), residual), level.block)
    scores = basis(level, sx, sy) * weights.ravel()
    inverse = np.asarray(np.linalg.inv(information), dtype=np.float64)
    scores = _without_leverage(level, shared, weights, inverse, scores)
    spread = inverse @ (scores @ scores.T) @ inverse + np.eye(4) * SYSTEMATIC_PX**2
    units = np.array([1.0, 1.0, 1.0 / level.reach, 1.0 / level.reach])
    return np.asarray(spread * np.outer(units, units), dtype=np.float64)


def _holding(shared: tuple[Floats, Floats, Floats], weights: Floats) -> float:
    """The part of the blocks that the texture is spread over: the effective number of sums of
    squares (L. Kish, "Survey Sampling", 1965)."""
    held = np.maximum(shared[0] + shared[2], 0.0) * weights
    return float(held.sum() ** 2 / max(float(np.square(held).sum()) * held.size, 1e-30))


def _without_leverage(
    level: Level,
    shared: tuple[Floats, Floats, Floats],
    weights: Floats,
    inverse: Doubles,
    scores: Doubles,
) -> Doubles:
    """Each block's score as if the fit had been made without it, (4, blocks).

    Where few blocks hold most of the texture, the fit follows their noise, and their scores look
    small: the plain sandwich is then too sure. Source: R. M. Bell, D. F. McCaffrey, "Bias reduction
    in standard errors for linear regression with multi-stage samples" (2002), the jackknife form.
    """
    xx, xy, yy = ((h.astype(np.float64) * weights).ravel() for h in shared)
    x, y = level.x.ravel().astype(np.float64), level.y.ravel().astype(np.float64)
    one, zero = np.ones_like(x), np.zeros_like(x)
    jx, jy = np.stack([one, zero, -y, x], axis=1), np.stack([zero, one, x, y], axis=1)
    cross = _outer(jx, jy)
    own = xx[:, None, None] * _outer(jx, jx) + yy[:, None, None] * _outer(jy, jy)
    own += xy[:, None, None] * (cross + cross.transpose(0, 2, 1))
    rest = np.eye(4) - own @ inverse
    freed = np.linalg.solve(rest + np.eye(4) * 1e-9, scores.T[:, :, None])
    return np.asarray(freed[:, :, 0].T)


def _outer(first: Doubles, second: Doubles) -> Doubles:
    return np.asarray(first[:, :, None] * second[:, None, :])


def _mean(first: Floats, second: Floats) -> Floats:
    return np.asarray((first + second) * np.float32(0.5), dtype=np.float32)


def _information_doubt(level: Level, differences: tuple[Floats, Floats], weights: Floats) -> float:
    """Standard deviation of the summed information if the pictures had nothing in common.

    The gradients' difference holds the noise of both; the product of two noises with that energy
    scatters by its root over the number of independent places.
    """
    places = level.block**2 / NOISE_PLACE_PX
    spread = 0.0
    for difference in differences:
        noise = block_sums((difference, difference), level.block) / 2
        spread = max(spread, float(np.sqrt(np.sum(np.square(noise * weights)) / places)))
    return spread
