"""The pose watch: what moved since the last exposure, and what should not be there.

A region that changed is one of three things: the object (what moves from frame to frame), something
that reaches in over the picture's edge, or something that should have stood still.
"""

from dataclasses import dataclass, field

import numpy as np

from standclear.imaging.difference import TEXTURE_SD, Difference, Scene, difference
from standclear.imaging.linear import Mask
from standclear.imaging.pose import Motion, object_motion
from standclear.imaging.regions import Region, grown, regions_of
from standclear.shooting.watches.thresholds import Thresholds
from standclear.shooting.watches.verdict import CLEAR, FLAGGED, Finding

OBJECT_PART = 0.15
"""A region with less than this part of the largest one's area is not the object."""

LEAST_CHANGED_BLOCKS = 3
"""Signs are averaged over 3 x 3 blocks, so that a true change shows in several."""

KNOWN_MOVES = 2
"""After so many moves it is known what the object is, and all else should stand still."""


@dataclass(frozen=True)
class PoseLook:
    """What was seen: difference to the last clean exposure, the object's motion, and intruders.

    Lengths of ``motion`` are in pixels of the scenes' detail.
    """

    changes: Difference
    motion: Motion | None
    intruder: Region | None
    moved: Region | None
    object_mask: Mask = field(repr=False)


def look_at_pose(
    before: Scene, after: Scene, activity: Mask, known_moves: int, limits: Thresholds
) -> PoseLook:
    """Compare an exposure with the last clean one.

    ``activity`` is by block where the object has been; ``known_moves`` how many moves made it.
    """
    changes = difference(before, after)
    regions = regions_of(changes.changed)
    ground = grown(activity, 3)
    likely = [region for region in regions if _moved_texture(changes, region)]
    if known_moves >= KNOWN_MOVES:
        likely = sorted(likely, key=lambda r: -r.part * (0.1 + r.overlaps(ground)))
    motion, chosen = _object(before, after, changes, likely)
    mask = motion.mask if motion is not None else np.zeros_like(changes.changed)
    seen = before.seen & after.seen
    intruder = _intruder(regions, grown(mask, 2) | ground, seen, limits)
    if motion is None and chosen is not None and chosen is not intruder and intruder is None:
        mask = chosen.mask
    settled = grown(mask, 3) | ground
    moved = None
    if known_moves >= KNOWN_MOVES:
        moved = _astray(changes, regions, settled, intruder, limits)
    return PoseLook(changes, motion, intruder, moved, mask)


def judge_pose(look: PoseLook, block_px: float, detail_px: float, limits: Thresholds) -> Finding:
    """The finding; ``block_px`` and ``detail_px`` are pixels of the original in each."""
    causes = []
    if look.changes.moved_blocks < LEAST_CHANGED_BLOCKS and look.intruder is None:
        causes.append("same_pose")
    if look.intruder is not None:
        causes.append("hand_left_in")
    if look.moved is not None:
        causes.append("something_moved")
    figures = _figures(look, block_px, detail_px)
    return Finding(
        FLAGGED if causes else CLEAR,
        _says(causes, figures),
        figures,
        tuple(causes),
        {"intruder_percent": limits.hand_percent, "moved_percent": limits.moved_percent},
    )


def _object(
    before: Scene, after: Scene, changes: Difference, regions: list[Region]
) -> tuple[Motion | None, Region | None]:
    """The motion of the largest region that has one."""
    if not regions:
        return None, None
    largest = regions[0].part
    for region in regions[:3]:
        if region.part < OBJECT_PART * largest:
            break
        motion = object_motion(before, after, changes, region)
        if motion is not None:
            return motion, region
    return None, regions[0]


def _intruder(
    regions: list[Region], explained: Mask, seen: Mask, limits: Thresholds
) -> Region | None:
    """The largest region that touches the edge and that neither motion nor memory explains."""
    for region in regions:
        for rest in regions_of(region.mask & ~explained, reach=1):
            if rest.touches_edge(seen) and 100 * rest.part >= limits.hand_percent:
                return rest
    return None


def _astray(
    changes: Difference,
    regions: list[Region],
    settled: Mask,
    intruder: Region | None,
    limits: Thresholds,
) -> Region | None:
    """The largest region away from the object in which texture changed."""
    for region in regions:
        if intruder is not None and region.overlaps(intruder.mask) > 0:
            continue
        if not _moved_texture(changes, region):
            continue
        if 100 * region.part >= limits.moved_percent and region.overlaps(settled) == 0:
            return region
    return None


def _moved_texture(changes: Difference, region: Region) -> bool:
    """Tone alone is light, or the rounding of a JPEG file's colour on an even surface."""
    return bool((changes.texture[region.mask] > TEXTURE_SD).any())


def _figures(look: PoseLook, block_px: float, detail_px: float) -> dict[str, float]:
    figures = {
        "pose_score": look.changes.score,
        "changed_percent": 100 * look.changes.changed_part,
        "intruder_percent": 100 * look.intruder.part if look.intruder else 0.0,
    }
    if look.motion is not None:
        figures |= {
            "move_x_px": look.motion.shift_x * detail_px,
            "move_y_px": look.motion.shift_y * detail_px,
            "move_px": look.motion.distance * detail_px,
            "move_turn_deg": look.motion.turn_deg,
            "object_x_px": look.motion.x * detail_px,
            "object_y_px": look.motion.y * detail_px,
            "foot_x_px": look.motion.foot[0] * detail_px,
            "foot_y_px": look.motion.foot[1] * detail_px,
            "foot_move_x_px": look.motion.foot_shift[0] * detail_px,
            "foot_move_y_px": look.motion.foot_shift[1] * detail_px,
        }
    box = look.intruder or look.moved
    if box is not None:
        figures |= {
            "box_x_px": box.left * block_px,
            "box_y_px": box.top * block_px,
            "box_width_px": box.width * block_px,
            "box_height_px": box.height * block_px,
        }
    return figures


def _says(causes: list[str], figures: dict[str, float]) -> str:
    sentences = {
        "same_pose": (
            "Nothing moved since the last exposure: the same pose twice, unless it is a hold."
        ),
        "hand_left_in": (
            f"Something reaches in over the edge and covers {figures['intruder_percent']:.1f} % "
            "of the picture: a hand, a tool or a shadow."
        ),
        "something_moved": "Something moved that stood still until now: look inside the box.",
    }
    if causes:
        return " ".join(sentences[cause] for cause in causes)
    if "move_px" in figures:
        return (
            f"The object moved by {figures['move_px']:.1f} px and turned by "
            f"{figures['move_turn_deg']:+.1f}°."
        )
    return "The pose changed."
