"""Whether light wanders over a set that rests otherwise: a shadow that has only just begun.

Over one picture such a shadow is still below the noise of a pixel, and in the mean of several it is
thinned by those from before it. But whole patches of the picture change from the first pictures to
the last, and over a patch the noise is next to nothing.
"""

from collections.abc import Sequence

import cv2
import numpy as np

from standclear.imaging.hands_frame import Picture, grey

PATCH = 40
"""Pixels of a prepared picture along a patch's side."""


def drift(pictures: Sequence[Picture]) -> float:
    """By how many codes of luma the patch that changed most did so, from the first third of the
    pictures to the last.

    ``pictures``: prepared, of one size, in one light; 0 for fewer than two.
    """
    if len(pictures) < 2:
        return 0.0
    count = max(1, len(pictures) // 3)
    first, last = _patches(pictures[:count]), _patches(pictures[-count:])
    return float(np.abs(last - first).max())


def _patches(pictures: Sequence[Picture]) -> cv2.typing.MatLike:
    """Means of luma over patches and pictures (rows, columns)."""
    height, width = pictures[0].shape[:2]
    size = (max(1, width // PATCH), max(1, height // PATCH))
    patches = [
        cv2.resize(grey(one).astype(np.float32), size, interpolation=cv2.INTER_AREA)
        for one in pictures
    ]
    return np.mean(patches, axis=0, dtype=np.float32)
