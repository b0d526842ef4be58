"""How restless the set's picture is by itself, learnt from its own first seconds.

From a handful of pictures of the set at rest: the spread of each pixel (JPEG makes edges more
restless than walls), and how much the light flickers as a whole. The result is a threshold for
every pixel. It is clamped from below: a plain wall in JPEG repeats itself exactly, until one day
it does not.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from standclear.imaging.hands_frame import (
    Picture,
    Plane,
    block_means,
    brighter,
    gain_between,
    largest_channel,
    share_of_blocks,
)

LEAST_SD = 0.7
"""Code values: no picture is taken to be quieter than this."""

SPREADS = 7.0
"""A pixel has changed when it differs by so many spreads. Over 230,400 pixels and a whole day,
five would be met by chance; the surplus is for noise that is not normal (JPEG)."""

FINE_SPREADS = 2.2
"""The same for means over eight pictures and more, whose spread is 0.4 of one picture's."""

LEAST_FINE = 2.0
"""Code values: two roundings and a gain apart."""

LEAST_FLICKER = 0.004
"""Spread of the gain on codes that is always granted (about 1 % of light)."""


@dataclass(frozen=True, slots=True)
class Noise:
    """``threshold``: code values by which one picture's pixel may differ (h, w);
    ``fine_threshold``: the same for a mean over several; ``sd``: the middle pixel's spread;
    ``flicker``: spread of the light's gain on codes."""

    threshold: Plane = field(repr=False)
    fine_threshold: Plane = field(repr=False)
    sd: float
    flicker: float


@dataclass(frozen=True, slots=True)
class Restless:
    """Something moved meanwhile, so nothing was learnt; ``blocks``: how much of the picture."""

    blocks: int


def mean_picture(pictures: Sequence[Picture]) -> Picture:
    """The mean of pictures of one size, in codes."""
    total = np.zeros(pictures[0].shape, np.float32)
    for picture in pictures:
        cv2.accumulate(picture, total)
    return np.asarray(np.round(total / len(pictures)), np.uint8)


def learn(pictures: Sequence[Picture]) -> Noise | Restless:
    """Learn from prepared pictures (at least 4) of the set at rest; see :class:`Noise`."""
    first = block_means(pictures[0])
    gains = [gain_between(block_means(picture), first) for picture in pictures]
    even = [brighter(one, 1.0 / gain) for one, gain in zip(pictures, gains, strict=True)]
    middle = mean_picture(even)
    spread = np.zeros(middle.shape[:2], np.float32)
    for picture in even:
        spread += largest_channel(np.asarray(cv2.absdiff(picture, middle), np.uint8))
    # For a normal distribution the mean deviation is 0.8 spreads.
    spread *= 1.25 / len(even)
    sd = max(LEAST_SD, float(np.median(spread)))
    moving = _restless_blocks(spread, sd)
    if moving > 6:
        return Restless(moving)
    local = cv2.blur(np.asarray(cv2.dilate(spread, np.ones((5, 5))), np.float32), (9, 9))
    local = np.maximum(local, max(LEAST_SD, sd))
    flicker = max(LEAST_FLICKER, float(np.std(np.log(gains))))
    return Noise(
        threshold=_codes(SPREADS * local),
        fine_threshold=_fine(even, np.maximum(LEAST_FINE, FINE_SPREADS * local)),
        sd=sd,
        flicker=flicker,
    )


def _fine(even: Sequence[Picture], threshold: NDArray[np.float32]) -> Plane:
    """The threshold for means: raised until the first half's mean does not differ from the
    second's, since JPEG's noise does not average out as a sensor's does."""
    half = len(even) // 2
    halves = [mean_picture(part) for part in (even[:half], even[half:])]
    apart = largest_channel(np.asarray(cv2.absdiff(halves[0], halves[1]), np.uint8))
    for _ in range(6):
        exceeds = np.asarray(cv2.compare(apart, _codes(threshold), cv2.CMP_GT), np.uint8)
        if not (share_of_blocks(exceeds) >= 0.12).any():
            break
        threshold = threshold * np.float32(1.3)
    return _codes(threshold)


def _restless_blocks(spread: NDArray[np.float32], sd: float) -> int:
    """Blocks far more restless than the picture as a whole: something moves there."""
    size = (max(1, spread.shape[1] // 8), max(1, spread.shape[0] // 8))
    means = np.asarray(cv2.resize(spread, size, interpolation=cv2.INTER_AREA), np.float32)
    return int(np.count_nonzero(means > 5.0 * sd))


def _codes(values: NDArray[np.float32]) -> Plane:
    return np.asarray(np.clip(np.ceil(values), 1, 255), np.uint8)
