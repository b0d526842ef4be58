"""Where a drawn mask lies on the other exposures: it goes along with the object. Pure arithmetic.

From exposure to exposure the object's own motion is measured as the pose watch does it
(`imaging.pose`), where something changed near the mask; the steps are chained, starting from the
exposure that the mask was drawn on. All lies on the shot's reference.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from standclear.finishing.strokes import Box, Line, drawn, moved
from standclear.imaging.difference import Difference, Scene, difference
from standclear.imaging.light import BLOCK, blocks_of
from standclear.imaging.linear import Mask
from standclear.imaging.pose import Motion, matched_motion, object_motion
from standclear.imaging.prepared import Prepared
from standclear.imaging.regions import Region, grown, regions_of
from standclear.imaging.similarity import IDENTITY, Similarity, brought_sharply, covered

Doubles = npt.NDArray[np.float64]

NEAR_BLOCKS = 4
"""The object is what moves within so many blocks of the mask."""

_IN_PLACE_PX = 0.05
_RIM_PX = 20.0
_TRIED = 3
_LIKE = 0.3


@dataclass(frozen=True)
class Place:
    """A drawn mask on one exposure: its lines in pixels of the reference, and where the object
    was seen, by block. ``lost``: something moved there that could not be followed."""

    lines: tuple[Line, ...]
    object_blocks: Mask | None = field(default=None, repr=False)
    lost: bool = False


def scene_of(seen: Prepared, motion: Similarity) -> Scene:
    """What is compared: texture on the reference. ``motion`` in pixels of the source."""
    at_texture = motion.resized(1 / seen.original_per_texture)
    detail = seen.texture[0]
    if _way(at_texture, detail.shape) < _IN_PLACE_PX:
        at_texture = IDENTITY
    else:
        detail = brought_sharply(detail, at_texture)
    blocks = blocks_of(seen.small, seen.trusted)[0]
    tone = np.log2(np.maximum(blocks.mean(axis=2), 1e-4)).astype(np.float32)
    size = round(BLOCK * seen.original_per_small / seen.original_per_texture)
    rows = min(tone.shape[0], detail.shape[0] // size)
    columns = min(tone.shape[1], detail.shape[1] // size)
    left = np.zeros((rows, columns, 3), np.float32)
    inside = covered(detail.shape, at_texture, (rows, columns), _RIM_PX)
    return Scene(detail, left, tone[:rows, :columns], inside, size, at_texture != IDENTITY)


def follow(
    lines: tuple[Line, ...],
    order: Sequence[int],
    scene: Callable[[int], Scene | None],
    scale: float,
) -> Iterator[tuple[int, Place]]:
    """The place of a mask on each exposure of ``order``, whose first it was drawn on.

    ``lines`` in pixels of the reference, ``scale`` of them to one of the scenes' detail. An
    exposure that has no scene keeps the place of the one before it.
    """
    before = scene(order[0])
    place = Place(lines)
    yield order[0], place
    for index in order[1:]:
        after = scene(index)
        if before is None or after is None:
            before = after or before
            yield index, Place(place.lines, place.object_blocks)
            continue
        place = _stepped(place, before, after, scale)
        before = after
        yield index, place


def _stepped(place: Place, before: Scene, after: Scene, scale: float) -> Place:
    changes = difference(before, after)
    near = grown(_by_block(place.lines, before, scale), NEAR_BLOCKS)
    if place.object_blocks is not None:
        near |= place.object_blocks
    regions = regions_of(changes.changed)
    touched = [region for region in regions if region.overlaps(near) > 0]
    if not touched:
        return Place(place.lines, place.object_blocks)
    motion = _motion(before, after, changes, touched, regions)
    if motion is None:
        return Place(place.lines, place.object_blocks, lost=True)
    return Place(moved(place.lines, _matrix(motion, scale)), motion.mask)


def _motion(
    before: Scene,
    after: Scene,
    changes: Difference,
    touched: Sequence[Region],
    regions: Sequence[Region],
) -> Motion | None:
    """By tracked corners where it gives one; else, the move being large, by its looks."""
    for region in touched[:_TRIED]:
        motion = object_motion(before, after, changes, region)
        if motion is not None:
            return motion
    return matched_motion(before, after, changes, _with_like(touched[0], regions))


def _with_like(region: Region, regions: Sequence[Region]) -> Region:
    """Joined with regions of like size: where a thing left and where it came to lie apart."""
    like = [one for one in regions if _LIKE * region.part <= one.part <= region.part / _LIKE]
    mask = np.logical_or.reduce([region.mask, *(one.mask for one in like)])
    rows, columns = np.nonzero(mask.any(axis=1))[0], np.nonzero(mask.any(axis=0))[0]
    size = int(columns[-1] - columns[0] + 1), int(rows[-1] - rows[0] + 1)
    return Region(float(mask.mean()), int(columns[0]), int(rows[0]), *size, np.asarray(mask))


def _matrix(motion: Motion, scale: float) -> Doubles:
    """2 x 3, points of the reference: a turn about the object's middle and its shift."""
    turn = np.deg2rad(motion.turn_deg)
    turning = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    now = np.array([motion.x, motion.y]) * scale
    then = now - np.array([motion.shift_x, motion.shift_y]) * scale
    return np.column_stack([turning, now - turning @ then])


def _by_block(lines: tuple[Line, ...], scene: Scene, scale: float) -> Mask:
    rows, columns = scene.tone.shape
    part = 1 / (scale * scene.block)
    small = tuple(
        Line(tuple((x * part, y * part) for x, y in line.points), max(1.0, line.width * part))
        for line in lines
    )
    return np.asarray(drawn(small, Box(0, 0, columns, rows)) > 0)


def _way(motion: Similarity, shape: tuple[int, ...]) -> float:
    """No point is moved further than about this, in pixels."""
    way = abs(motion.shift_x) + abs(motion.shift_y)
    return way + (abs(motion.turn) + abs(motion.log_scale)) * shape[1] / 2


def pixels_of(blocks: Mask, box: Box, per_block: float) -> Mask:
    """Blocks as pixels of a box of the reference; ``per_block`` pixels to one."""
    width, height = box.size
    x = np.clip(((np.arange(width) + box.left) / per_block).astype(int), 0, blocks.shape[1] - 1)
    y = np.clip(((np.arange(height) + box.top) / per_block).astype(int), 0, blocks.shape[0] - 1)
    return np.asarray(blocks[np.ix_(y, x)], dtype=bool)
