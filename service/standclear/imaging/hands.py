"""Hands on the set, measured: what differs from the last kept picture, and what moves now.

Pure arithmetic on prepared pictures (``hands_frame.py``). Two looks: a *glance* at every live
picture, which must cost no more than 3 ms, and a *study* of the mean of several pictures of the
set at rest, which finds what a single picture hides in its noise and tells the causes apart.
Judging is not done here: see ``shooting/stepback/``.
"""

from dataclasses import dataclass, field
from typing import Literal

import cv2
import numpy as np

from standclear.imaging.hands_bump import Shift, shift_between
from standclear.imaging.hands_frame import (
    Blocks,
    Mask,
    Picture,
    Plane,
    block_means,
    brighter,
    gain_between,
    grey,
    light_blocks,
    share_of_blocks,
)
from standclear.imaging.hands_noise import Noise
from standclear.imaging.hands_parts import (
    CHANGED_SHARE,
    FINE_BUSY,
    RIM,
    Difference,
    Part,
    Side,
    difference,
)

Kind = Literal["moved", "appeared", "vanished"]

ONE_SIDED = 0.72
"""From this share of gained (or lost) outlines on, a part has appeared (or vanished)."""


@dataclass(frozen=True, slots=True)
class Reference:
    """The set as it was kept: its prepared picture with its blocks, its luma and that one's blocks,
    and thresholds with clipped pixels taken out (they do not follow the light)."""

    side: Side = field(repr=False)
    luma: Plane = field(repr=False)
    light: Blocks = field(repr=False)
    threshold: Plane = field(repr=False)
    fine_threshold: Plane = field(repr=False)


@dataclass(frozen=True, slots=True)
class Anchor:
    """The picture that "still" is measured against: luma in the reference's light."""

    luma: Plane = field(repr=False)


@dataclass(frozen=True, slots=True)
class Glance:
    """One live picture against reference and anchor. ``gain``: factor on codes against the
    reference; ``moving``: blocks that differ from the anchor, ``moving_edge``: of these, at the
    picture's edge; ``luma`` serves as the next anchor; ``even``: the picture in the reference's
    light; ``spread``: the share of blocks changed."""

    gain: float
    moving: int
    moving_edge: int
    apart: Difference
    even: Picture = field(repr=False)
    luma: Plane = field(repr=False)

    @property
    def spread(self) -> float:
        """The share of the picture's blocks that changed (0 to 1)."""
        return float(np.count_nonzero(self.apart.changed)) / self.apart.changed.size


@dataclass(frozen=True, slots=True)
class StudiedPart:
    """A part and whether it moved, appeared or vanished. ``gained``: the share of its outlines
    that are new (about 0.5 for a thing that moved)."""

    part: Part
    kind: Kind
    gained: float


@dataclass(frozen=True, slots=True)
class Study:
    """The set at rest against the reference. ``drift``: how much light wandered over it while it
    rested, in codes (``hands_drift.py``)."""

    gain: float
    apart: Difference
    parts: tuple[StudiedPart, ...]
    shift: Shift
    drift: float = 0.0


def reference(picture: Picture, noise: Noise) -> Reference:
    """What later pictures are measured against, from a prepared picture (best a mean)."""
    clipped = (picture.max(axis=2) >= 250).astype(np.uint8) * np.uint8(255)
    clipped = np.asarray(cv2.dilate(clipped, np.ones((3, 3), np.uint8)), np.uint8)
    luma = grey(picture)
    return Reference(
        Side(picture, block_means(picture)),
        luma,
        light_blocks(luma),
        np.maximum(noise.threshold, clipped),
        np.maximum(noise.fine_threshold, clipped),
    )


def glance(picture: Picture, then: Reference, anchor: Anchor | None) -> Glance:
    """Measure one prepared picture of the reference's size."""
    gain, even, luma = _in_light_of(picture, then)
    apart = difference(even, then.side, then.threshold)
    moving, at_edge = (0, 0) if anchor is None else _moving(luma, anchor, then.threshold)
    return Glance(gain, moving, at_edge, apart, even, luma)


def _in_light_of(picture: Picture, then: Reference) -> tuple[float, Picture, Plane]:
    """The light's gain on codes, and the picture and its luma in the reference's light."""
    luma = grey(picture)
    gain = gain_between(light_blocks(luma), then.light)
    return gain, brighter(picture, 1.0 / gain), brighter(luma, 1.0 / gain)


def _moving(luma: Plane, anchor: Anchor, threshold: Plane) -> tuple[int, int]:
    """Blocks that differ from the anchor, and those of them at the picture's edge."""
    apart = cv2.absdiff(luma, anchor.luma)
    exceeds = np.asarray(cv2.compare(apart, threshold, cv2.CMP_GT), np.uint8)
    moving = share_of_blocks(exceeds) >= CHANGED_SHARE
    total = int(np.count_nonzero(moving))
    return total, total - int(np.count_nonzero(moving[RIM:-RIM, RIM:-RIM]))


def study(picture: Picture, then: Reference, noise: Noise) -> Study:
    """Measure a mean of prepared pictures of the set at rest; some 10 to 25 ms."""
    gain, even, luma = _in_light_of(picture, then)
    apart = difference(even, then.side, then.fine_threshold, FINE_BUSY)
    shift = shift_between(then.luma, luma, max(1.0, noise.sd))
    gained, lost = _outlines(luma, then.luma, noise)
    parts = tuple(_studied(part, gained, lost) for part in apart.parts)
    return Study(gain, apart, parts, shift)


def _outlines(now: Plane, then: Plane, noise: Noise) -> tuple[Blocks, Blocks]:
    """Per block: the share of pixels whose gradient is stronger now, and weaker now."""
    steep = [
        cv2.magnitude(
            cv2.Scharr(one, cv2.CV_32F, 1, 0, scale=1 / 32),
            cv2.Scharr(one, cv2.CV_32F, 0, 1, scale=1 / 32),
        )
        for one in (now, then)
    ]
    step = 2.0 + 2.0 * noise.sd
    gained = ((steep[0] - steep[1]) > step).astype(np.uint8) * np.uint8(255)
    lost = ((steep[1] - steep[0]) > step).astype(np.uint8) * np.uint8(255)
    return share_of_blocks(gained), share_of_blocks(lost)


def _studied(part: Part, gained: Blocks, lost: Blocks) -> StudiedPart:
    around: Mask = cv2.dilate(part.where.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    more, less = float(gained[around].sum()), float(lost[around].sum())
    share = (more + 0.5) / (more + less + 1.0)
    kind: Kind = "moved"
    if share > ONE_SIDED:
        kind = "appeared"
    elif share < 1.0 - ONE_SIDED:
        kind = "vanished"
    return StudiedPart(part, kind, share)
