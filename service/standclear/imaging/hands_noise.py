"""How restless the set's picture is by itself, learnt from its own first seconds.

From a handful of pictures of the set at rest: the spread of each pixel (JPEG makes edges more
restless than walls), and how much the light flickers as a whole. The result is a threshold for
every pixel. It is clamped from below: a plain wall in JPEG repeats itself exactly, until one day
it does not.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TypeAlias

import cv2
import numpy as np
from numpy.typing import NDArray

from standclear.imaging.hands_frame import (
    Picture,
    Plane,
    brighter,
    gain_between,
    grey,
    largest_channel,
    light_blocks,
)

Spread: TypeAlias = NDArray[np.float32]
"""(h, w): a spread for each pixel, in codes."""

LEAST_SD = 0.7
"""Code values: no picture is taken to be quieter than this."""

SPREADS = 7.0
"""A pixel has changed when it differs by so many spreads. Over 230,400 pixels and a whole day,
five would be met by chance; the surplus is for noise that is not normal (JPEG)."""

FINE_SPREADS = 2.2
"""The same for means over eight pictures and more, whose spread is 0.4 of one picture's."""

LEAST_FINE = 2.0
"""Code values: two roundings and a gain apart."""

FADES = np.float32(0.85)
"""What is left of an old threshold at each picture kept."""

LEAST_FLICKER = 0.004
"""Spread of the gain on codes that is always granted (about 1 % of light)."""


@dataclass(frozen=True, slots=True)
class Noise:
    """``threshold``: code values by which one picture's pixel may differ (h, w);
    ``fine_threshold``: the same for a mean over several; ``local``: the spread around each pixel;
    ``sd``: the middle pixel's spread;
    ``flicker``: spread of the light's gain on codes."""

    threshold: Plane = field(repr=False)
    fine_threshold: Plane = field(repr=False)
    local: Spread = field(repr=False)
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
    even, gains = _in_one_light(pictures)
    spread = _spread(even)
    sd = max(LEAST_SD, float(np.median(spread)))
    moving = _restless_blocks(spread, sd)
    if moving > 6:
        return Restless(moving)
    local = _around(spread, sd)
    flicker = max(LEAST_FLICKER, float(np.std(np.log(gains))))
    return Noise(_codes(SPREADS * local), _fine(even, local), local, sd, flicker)


def renew(noise: Noise, pictures: Sequence[Picture]) -> Noise:
    """The noise after a picture was kept: an object's outlines carry JPEG's restlessness along
    with them. Where nothing is restless any more the old threshold fades."""
    if len(pictures) < 4:
        return noise
    even, _ = _in_one_light(pictures)
    local = np.maximum(_around(_spread(even), noise.sd), FADES * noise.local)
    fine = np.maximum(_fine(even, local), _codes(FADES * noise.fine_threshold))
    return replace(noise, threshold=_codes(SPREADS * local), fine_threshold=fine, local=local)


def _in_one_light(pictures: Sequence[Picture]) -> tuple[list[Picture], list[float]]:
    """The pictures in the first one's light, and their gains against it."""
    lights = [light_blocks(grey(picture)) for picture in pictures]
    gains = [gain_between(light, lights[0]) for light in lights]
    return [brighter(one, 1.0 / gain) for one, gain in zip(pictures, gains, strict=True)], gains


def _spread(even: Sequence[Picture]) -> Spread:
    """Each pixel's spread over time, in codes, of its most restless channel."""
    middle = mean_picture(even)
    spread = np.zeros(middle.shape[:2], np.float32)
    for picture in even:
        spread += largest_channel(np.asarray(cv2.absdiff(picture, middle), np.uint8))
    # For a normal distribution the mean deviation is 0.8 spreads.
    return np.asarray(spread * np.float32(1.25 / len(even)), np.float32)


def _around(spread: Spread, sd: float) -> Spread:
    """The largest spread nearby, smoothed, and no less than the picture's own."""
    local = cv2.blur(np.asarray(cv2.dilate(spread, np.ones((5, 5))), np.float32), (9, 9))
    return np.asarray(np.maximum(local, max(LEAST_SD, sd)), np.float32)


def _fine(even: Sequence[Picture], local: Spread) -> Plane:
    """The threshold for means: no less than what the first half's mean differs from the second's,
    since JPEG's noise does not average out as a sensor's does."""
    half = len(even) // 2
    halves = [mean_picture(part) for part in (even[:half], even[half:])]
    apart = largest_channel(np.asarray(cv2.absdiff(halves[0], halves[1]), np.uint8))
    threshold = _codes(np.maximum(LEAST_FINE, FINE_SPREADS * local))
    exceeds = np.asarray(cv2.compare(apart, threshold, cv2.CMP_GT), np.uint8)
    beyond = cv2.dilate(cv2.bitwise_and(apart, exceeds), np.ones((17, 17), np.uint8))
    return np.maximum(threshold, _codes(1.3 * beyond.astype(np.float32)))


def _restless_blocks(spread: Spread, sd: float) -> int:
    """Blocks far more restless than the picture as a whole: something moves there."""
    size = (max(1, spread.shape[1] // 8), max(1, spread.shape[0] // 8))
    means = np.asarray(cv2.resize(spread, size, interpolation=cv2.INTER_AREA), np.float32)
    return int(np.count_nonzero(means > 5.0 * sd))


def _codes(values: Spread) -> Plane:
    return np.asarray(np.clip(np.ceil(values), 1, 255), np.uint8)
