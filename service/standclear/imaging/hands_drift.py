"""Whether light wanders over a set that rests otherwise: a shadow that has only just begun.

Over one picture such a shadow is still below the noise of a pixel, and in the mean of several it is
thinned by those from before it. But whole patches of the picture change from the first pictures to
the last, and over a patch the noise is next to nothing.

A lamp that flickers changes every patch, too, and by its tone: what is a smooth curve over tone in
each picture is therefore taken off, by a fit that the patches in the shadow are too few to bend.
"""

from collections.abc import Sequence

import cv2
import numpy as np

from standclear.imaging.hands_frame import Picture, grey
from standclear.imaging.linear import Doubles
from standclear.imaging.robust import BIWEIGHT_CUT, robust_sd

PATCH = 40
"""Pixels of a prepared picture along a patch's side."""

CURVE_POWERS = 3
ROUNDS = 5
LEAST_SD = 0.02
CLIPPED = 245.0
DARKEST = 8.0


def drift(pictures: Sequence[Picture]) -> float:
    """By how many codes of luma the patch that changed most did so, from the first third of the
    pictures to the last, beside what light does to its tone.

    ``pictures``: prepared, of one size, as they came; 0 for fewer than two.
    """
    if len(pictures) < 2:
        return 0.0
    patches = np.stack([_patches(one) for one in pictures])
    middle = patches.mean(axis=0)
    fit = (middle > DARKEST) & (middle < CLIPPED)
    if not fit.any():
        return 0.0
    curves = np.vander(middle[fit] / 128.0 - 1.0, CURVE_POWERS + 1)
    left = np.stack([_beside(curves, one[fit] - middle[fit]) for one in patches])
    count = max(1, len(pictures) // 3)
    return float(np.abs(left[-count:].mean(axis=0) - left[:count].mean(axis=0)).max())


def _beside(curves: Doubles, change: Doubles) -> Doubles:
    """What no curve over tone explains of one picture's change, by patch (Tukey's biweight)."""
    left, weights = change, np.ones(change.shape)
    for _ in range(ROUNDS):
        root = np.sqrt(weights)
        found = np.linalg.lstsq(curves * root[:, None], change * root, rcond=None)[0]
        left = change - curves @ found
        cut = BIWEIGHT_CUT * max(robust_sd(left), LEAST_SD)
        weights = np.square(np.clip(1.0 - np.square(left / cut), 0.0, 1.0))
    return left


def _patches(picture: Picture) -> Doubles:
    """Means of luma over patches."""
    height, width = picture.shape[:2]
    size = (max(1, width // PATCH), max(1, height // PATCH))
    small = cv2.resize(grey(picture).astype(np.float32), size, interpolation=cv2.INTER_AREA)
    return np.asarray(small.ravel(), np.float64)
