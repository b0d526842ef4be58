"""The mean of several pictures of one scene, in linear light (sRGB, IEC 61966-2-1).

Sensor noise of n pictures falls by the square root of n. The mean is taken of light, not of
coded values: those follow a curve, and their mean is darker than the mean of what they stand for.
"""

from collections.abc import Sequence
from functools import cache

import numpy as np
from numpy.typing import NDArray

from standclear.imaging.linear import linear_to_srgb, linearise

_TOP = 65535


@cache
def _codes() -> NDArray[np.uint8]:
    """The 8-bit code of each 1/65535 of light, which is 1/20 of the smallest 8-bit difference."""
    codes = np.rint(linear_to_srgb(np.arange(_TOP + 1) / _TOP) * 255.0).astype(np.uint8)
    codes.setflags(write=False)
    return codes


def mean_in_linear_light(pictures: Sequence[NDArray[np.uint8]]) -> NDArray[np.uint8]:
    """The mean of 8-bit sRGB pictures of one shape. Raises ValueError for none, or unlike ones."""
    if not pictures:
        raise ValueError("no picture to average")
    if len({picture.shape for picture in pictures}) > 1:
        raise ValueError("the pictures differ in shape")
    if len(pictures) == 1:
        return pictures[0]
    light = linearise(pictures[0])
    for picture in pictures[1:]:
        light = light + linearise(picture)
    steps = np.rint(light * (_TOP / len(pictures))).astype(np.uint16)
    return np.asarray(_codes()[steps], dtype=np.uint8)
