"""Connected regions of changed blocks: where they lie, how large they are, whether they touch."""

from dataclasses import dataclass, field

import cv2
import numpy as np

from standclear.imaging.linear import Mask


@dataclass(frozen=True)
class Region:
    """Blocks that hang together. ``part`` of the picture (0..1); the box in blocks."""

    part: float
    left: int
    top: int
    width: int
    height: int
    mask: Mask = field(repr=False)

    def touches_edge(self, seen: Mask) -> bool:
        """Whether it reaches the border of what both pictures show."""
        rim = grown(np.pad(~seen, 1, constant_values=True), 1)[1:-1, 1:-1]
        return bool((self.mask & rim).any())

    def overlaps(self, other: Mask) -> float:
        """The part of it that lies in another mask."""
        return float((self.mask & other).sum() / max(self.mask.sum(), 1))


def regions_of(changed: Mask, reach: int = 1, least_blocks: int = 3) -> list[Region]:
    """Regions of a mask, largest first; gaps up to twice ``reach`` blocks are bridged."""
    bridged = grown(changed, reach)
    count, labels, _, _ = cv2.connectedComponentsWithStats(bridged.astype(np.uint8), connectivity=8)
    found = []
    for label in range(1, count):
        mask = (labels == label) & changed
        if mask.sum() < least_blocks:
            continue
        rows, columns = np.nonzero(mask.any(axis=1))[0], np.nonzero(mask.any(axis=0))[0]
        found.append(
            Region(
                float(mask.mean()),
                int(columns[0]),
                int(rows[0]),
                int(columns[-1] - columns[0] + 1),
                int(rows[-1] - rows[0] + 1),
                mask,
            )
        )
    return sorted(found, key=lambda region: -region.part)


def grown(mask: Mask, reach: int) -> Mask:
    """A mask dilated by ``reach`` blocks to all sides."""
    if reach <= 0:
        return mask
    kernel = np.ones((2 * reach + 1, 2 * reach + 1), dtype=np.uint8)
    return np.asarray(cv2.dilate(mask.astype(np.uint8), kernel), dtype=bool)


def filled(mask: Mask) -> Mask:
    """A mask with its holes closed."""
    contours, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    whole = np.zeros(mask.shape, dtype=np.uint8)
    cv2.drawContours(whole, contours, -1, 1, thickness=cv2.FILLED)
    return whole.astype(bool)
