"""How far the object moved in each exposure, from the stored verdicts: in pixels, in mm of table.

Pure. The pose watch says where the object's middle and its foot are and how they came there, in
pixels of the original. Pixels are told of the middle, which is what the eye follows; a calibrated
table turns both ends of the foot's way into millimetres, since it holds for what lies on it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import hypot
from typing import Any

import numpy as np

from standclear.library.records import Judged
from standclear.timing.errors import TableError
from standclear.timing.table import Table

Ends = tuple[tuple[float, float], tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Step:
    """One exposure's step; ``None`` where it cannot be told. ``moving``: how many things moved."""

    px: float | None = None
    mm: float | None = None
    moving: int | None = None


def steps_of(lines: Sequence[Judged], table: Table | None, width: int | None) -> list[Step]:
    """A step for each line. ``width`` is that of the originals, in pixels."""
    poses = [_pose(line) for line in lines]
    ends = [_ends(pose) for pose in poses]
    lengths = _lengths_mm(ends, table, width)
    return [
        Step(_px(pose), mm if end else _nothing_moved(pose), _moving(pose))
        for pose, end, mm in zip(poses, ends, lengths, strict=True)
    ]


def _pose(line: Judged) -> Mapping[str, Any]:
    pose: Mapping[str, Any] = (line.verdict or {}).get("watches", {}).get("pose", {})
    return pose


FOOT = ("foot_x_px", "foot_y_px", "foot_move_x_px", "foot_move_y_px")
MIDDLE = ("object_x_px", "object_y_px", "move_x_px", "move_y_px")
"""For verdicts that were kept before the watch told the foot."""


def _ends(pose: Mapping[str, Any]) -> Ends | None:
    """Where the step began and ended, in pixels of the original."""
    figures = pose.get("figures", {})
    for names in (FOOT, MIDDLE):
        if all(name in figures for name in names):
            x, y, dx, dy = (float(figures[name]) for name in names)
            return (x - dx, y - dy), (x, y)
    return None


def _nothing_moved(pose: Mapping[str, Any]) -> float | None:
    return 0.0 if "same_pose" in pose.get("causes", ()) else None


def _px(pose: Mapping[str, Any]) -> float | None:
    moved = pose.get("figures", {}).get("move_px")
    return _nothing_moved(pose) if moved is None else float(moved)


def _moving(pose: Mapping[str, Any]) -> int | None:
    if "something_moved" in pose.get("causes", ()):
        return 2
    if _px(pose) is None:
        return None
    return 0 if _px(pose) == 0.0 else 1


def _lengths_mm(
    ends: Sequence[Ends | None], table: Table | None, width: int | None
) -> list[float | None]:
    """On the table; all at once, and one by one only where a point lies beyond its horizon."""
    known = [end for end in ends if end is not None]
    if table is None or not known:
        return [None] * len(ends)
    scale = table.picture[0] / width if table.picture and width else 1.0
    points = np.array(known, dtype=np.float64) * scale
    try:
        placed = table.mm(points.reshape(-1, 2)).reshape(-1, 2, 2)
        found: list[float | None] = [hypot(*way) for way in placed[:, 1] - placed[:, 0]]
    except TableError:
        found = [_one_mm(table, pair) for pair in points]
    lengths = iter(found)
    return [None if end is None else next(lengths) for end in ends]


def _one_mm(table: Table, pair: Any) -> float | None:
    try:
        start, end = table.mm(pair)
    except TableError:
        return None
    return hypot(*(end - start))
