"""How much blurrier the still background is than in the reference, apart from light and noise.

A small blur of variance s adds s/2 times the Laplacian (the heat equation); a change of contrast
adds a multiple of the picture; a change of noise adds the same to every block, textured or not. The
three are fitted together to the blocks' products of the difference with the mean picture and with
its Laplacian. In these products noise cancels where both exposures have the same, and what is left
does not depend on texture: it is the third unknown.

Source: A. P. Witkin, "Scale-space filtering" (IJCAI 1983), for blur as heat; the estimate is ours.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from standclear.imaging.linear import Doubles
from standclear.imaging.registration import Reference, Registration
from standclear.imaging.texture import block_sums

LEAST_SHARE = 0.02
LEAST_BLOCKS = 20


@dataclass(frozen=True)
class FocusChange:
    """``blur_variance`` in px² of the finest texture level, negative when sharper, its standard
    deviation, and the change of contrast (0 for none)."""

    blur_variance: float
    sd: float
    contrast: float


def focus_change(reference: Reference, found: Registration) -> FocusChange | None:
    """Compare a registered exposure with its reference; ``None`` when too little texture is still.

    The blur that the resampling of the registered picture adds by itself is taken off.
    """
    level = reference.levels[0]
    mean = (level.picture + found.aligned) * 0.5
    bent = np.asarray(cv2.Laplacian(mean, -1, ksize=1), dtype=np.float32)
    difference = found.aligned - level.picture
    size = level.block
    sums = {
        "pp": block_sums((mean, mean), size),
        "pl": block_sums((mean, bent), size),
        "ll": block_sums((bent, bent), size),
        "yp": block_sums((difference, mean), size),
        "yl": block_sums((difference, bent), size),
    }
    counted = found.weights > 0.2
    if counted.sum() < LEAST_BLOCKS:
        return None
    picked = {name: value[counted].astype(np.float64) for name, value in sums.items()}
    return _solved(picked, _resampling_variance(found, level.picture.shape))


def blur_px(variance: float) -> float:
    """Standard deviation of the Gaussian blur, signed: negative for a picture that got sharper."""
    return float(np.sign(variance) * np.sqrt(abs(variance)))


def _solved(sums: dict[str, Doubles], resampling: float) -> FocusChange | None:
    """Unknowns: contrast, half the blur's variance, the noise's part in either product."""
    one, zero = np.ones_like(sums["pp"]), np.zeros_like(sums["pp"])
    rows = np.concatenate(
        [
            np.stack([sums["pp"], sums["pl"], one, zero], axis=1),
            np.stack([sums["pl"], sums["ll"], zero, one], axis=1),
        ]
    )
    wanted = np.concatenate([sums["yp"], sums["yl"]])
    # Noise of a product grows with the texture it is multiplied by.
    spread = np.concatenate([_spread(sums["pp"]), _spread(sums["ll"])])
    weighted, target = rows / spread[:, None], wanted / spread
    values, weights = _clipped_fit(weighted, target)
    if values is None:
        return None
    left = (target - weighted @ values) * weights
    inverse = np.linalg.pinv((weighted * weights[:, None]).T @ weighted)
    scores = weighted * left[:, None]
    pairs = scores[: len(one)] + scores[len(one) :]
    covariance = inverse @ (pairs.T @ pairs) @ inverse
    sd = 2.0 * float(np.sqrt(max(covariance[1, 1], 0.0)))
    return FocusChange(2.0 * float(values[1]) - resampling, sd, float(values[0]))


def _spread(energy: Doubles) -> Doubles:
    return np.asarray(np.sqrt(energy + LEAST_SHARE * energy.mean() + 1e-20))


def _clipped_fit(design: Doubles, wanted: Doubles) -> tuple[Doubles | None, Doubles]:
    weights = np.ones(len(wanted))
    values: Doubles | None = None
    for _ in range(8):
        normal = (design * weights[:, None]).T @ design
        scale = np.sqrt(np.maximum(np.diag(normal), 1e-30))
        if np.linalg.cond(normal / np.outer(scale, scale)) > 1e10:
            return None, weights
        found = np.linalg.solve(normal, (design * weights[:, None]).T @ wanted)
        values = np.asarray(found, dtype=np.float64)
        left = wanted - design @ found
        limit = 3.0 * 1.4826 * float(np.median(np.abs(left))) + 1e-12
        weights = np.minimum(1.0, limit / np.maximum(np.abs(left), 1e-12))
    return values, weights


def _resampling_variance(found: Registration, shape: tuple[int, ...]) -> float:
    """Mean blur of linear interpolation: f (1 - f) along each axis, halved for the two axes."""
    rows, columns = found.weights.shape
    x, y = np.meshgrid(
        (np.arange(columns) + 0.5) / columns * shape[1], (np.arange(rows) + 0.5) / rows * shape[0]
    )
    points = np.stack([x.ravel(), y.ravel()], axis=1)
    if abs(found.motion.turn) + abs(found.motion.log_scale) > 2.0 / shape[1]:
        return 1.0 / 6.0  # the mean of f (1 - f) when all fractions occur
    moved = found.motion.displacement(points, shape)
    part = moved - np.floor(moved)
    return float((part * (1.0 - part)).mean())
