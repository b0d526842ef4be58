"""What differs between two pictures of the set: hard parts (things) and soft ones (light).

A thing that came, went or moved has outlines: the difference jumps from block to block, or the
texture inside a block is another one. A shadow or a lamp changes neighbouring blocks alike and
leaves their texture. Only hard parts can be a hand.
"""

from dataclasses import dataclass, field

import cv2
import numpy as np

from standclear.imaging.hands_frame import (
    Blocks,
    Mask,
    Picture,
    Plane,
    block_means,
    largest_channel,
    share_of_blocks,
)

CHANGED_SHARE = 0.115
"""A block has changed when at least this share of its pixels has (2 of 16)."""

JUMP = 0.07
"""Neighbours that differ by more than this fraction do not do so by light alone. The softest
outline of a thing in focus is ten times that, the steepest shadow seen a third."""

BUSY = 1.6
"""Code values by which a block's pixels may differ in opposite directions by noise."""

BUSY_SHARE = 0.1
"""And what share of a change may: under a shadow a block's channels take turns at being most."""

FINE_BUSY = 0.8
"""The same between means over several pictures, where mostly rounding is left."""

RIM = 2
"""Blocks from the picture's border that count as its edge."""

LEAST_PART = 2
"""Blocks; fewer are a speck."""

EDGES = ("left", "right", "top", "bottom")

_JOIN = np.ones((5, 5), np.uint8)
_AROUND = np.ones((13, 13), np.uint8)


@dataclass(frozen=True, slots=True)
class Part:
    """One connected hard part: its area in blocks, the edges it touches, its middle and its box
    (left, top, right, bottom; blocks), and where it is."""

    area: int
    edges: tuple[str, ...]
    middle: tuple[float, float]
    box: tuple[int, int, int, int]
    where: Mask = field(repr=False)


@dataclass(frozen=True, slots=True)
class Difference:
    """``changed``, ``hard``: (rows, columns) of blocks; ``soft``: how many blocks changed by light
    alone, away from any thing; ``parts``: the hard ones, largest first."""

    changed: Mask = field(repr=False)
    hard: Mask = field(repr=False)
    soft: int
    parts: tuple[Part, ...]

    @property
    def edges(self) -> tuple[str, ...]:
        """All edges that any part touches."""
        return tuple(edge for edge in EDGES if any(edge in part.edges for part in self.parts))

    @property
    def hard_area(self) -> int:
        """Blocks in all parts."""
        return sum(part.area for part in self.parts)


@dataclass(frozen=True, slots=True)
class Side:
    """A prepared picture with its block means."""

    picture: Picture = field(repr=False)
    blocks: Blocks = field(repr=False)


def difference(now: Picture, then: Side, threshold: Plane, busy: float = BUSY) -> Difference:
    """What differs between two pictures whose light was made alike."""
    apart = np.asarray(cv2.absdiff(now, then.picture), np.uint8)
    most = largest_channel(apart)
    exceeds = np.asarray(cv2.compare(most, threshold, cv2.CMP_GT), np.uint8)
    changed = share_of_blocks(exceeds) >= CHANGED_SHARE
    if not changed.any():
        return Difference(changed, np.zeros_like(changed), 0, ())
    hard = changed & _jumps_or_texture(block_means(now), then.blocks, block_means(most), busy)
    parts = _parts(hard)
    kept = np.zeros_like(hard)
    for part in parts:
        kept |= part.where
    around = cv2.dilate(kept.astype(np.uint8), _AROUND) > 0
    for part in parts:  # the plain inside of a large thing is no light
        left, top, right, bottom = part.box
        around[top : bottom + 1, left : right + 1] = True
    soft = int(np.count_nonzero(changed & ~around))
    return Difference(changed, kept, soft, parts)


def _jumps_or_texture(now: Blocks, then: Blocks, apart: Blocks, most_busy: float) -> Mask:
    """Where a change has an outline, or goes both ways inside a block."""
    signed = cv2.subtract(now, then)
    level = cv2.add(cv2.max(now, then), (8.0, 8.0, 8.0, 0.0))
    jump = np.zeros(apart.shape, np.float32)
    for relative in cv2.split(cv2.divide(signed, level)):
        for x, y in ((1, 0), (0, 1)):
            slope = cv2.Sobel(relative, cv2.CV_32F, x, y, ksize=1, borderType=cv2.BORDER_REPLICATE)
            jump = cv2.max(jump, cv2.max(slope, -slope))
    blue, green, red = cv2.split(cv2.absdiff(signed, (0.0, 0.0, 0.0, 0.0)))
    busy = apart - cv2.max(cv2.max(blue, green), red)
    return np.asarray((jump > JUMP) | (busy > most_busy + BUSY_SHARE * apart), np.bool_)


def _parts(hard: Mask) -> tuple[Part, ...]:
    """Connected parts, with gaps of up to two blocks closed, specks left out."""
    joined = cv2.dilate(hard.astype(np.uint8), _JOIN)
    count, labels, _, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
    labels = np.where(hard, labels, 0)
    areas = np.bincount(labels.ravel(), minlength=count)
    order = np.argsort(areas[1:])[::-1][:12] + 1
    return tuple(_part(labels == label) for label in order if areas[label] >= LEAST_PART)


def _part(where: Mask) -> Part:
    rows, columns = np.nonzero(where)
    height, width = where.shape
    box = (int(columns.min()), int(rows.min()), int(columns.max()), int(rows.max()))
    touches = {
        "left": box[0] < RIM,
        "right": box[2] >= width - RIM,
        "top": box[1] < RIM,
        "bottom": box[3] >= height - RIM,
    }
    edges = tuple(edge for edge in EDGES if touches[edge])
    return Part(len(rows), edges, (float(columns.mean()), float(rows.mean())), box, where)
