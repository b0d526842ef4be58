"""Where the object goes in each exposure of a move, on the table and over the picture.

A path drawn on the picture is carried to the table first, so that spacing is true in millimetres;
without a calibrated table it is true in picture pixels only, and no distance in mm is told.
"""

from dataclasses import dataclass

import numpy as np

from standclear.timing.errors import PlanError, TimingError
from standclear.timing.paths import Floats, Path
from standclear.timing.plan import Move, Plan, Span
from standclear.timing.spacing import Tick, ticks
from standclear.timing.table import Table

MOST_PLACED = 50_000


@dataclass(frozen=True, slots=True)
class Target:
    """One exposure's place. ``step_mm`` is the way from the pose before; None without a scale."""

    exposure: int
    first_frame: int
    hold: int
    progress: float
    table_mm: tuple[float, float] | None
    picture_px: tuple[float, float] | None
    step_mm: float | None


def table_path(move: Move, table: Table | None) -> Path | None:
    """The drawn path on the table in mm; None when it has no points or there is no scale."""
    if not move.points:
        return None
    if move.space == "table":
        return Path(move.points, move.curve)
    if table is None:
        return None
    return Path(table.mm(move.points), move.curve)


def move_length_mm(span: Span, table: Table | None = None) -> float | None:
    """How long the whole move is on the table: along the drawn path, or as typed."""
    move = span.action.move
    if move is None:
        return None
    path = table_path(move, table)
    if path is not None:
        return path.length
    return None if move.length_mm is None else float(move.length_mm)


def planned_ticks(span: Span, table: Table | None = None) -> tuple[Tick, ...] | None:
    """The spacing of an action's move in mm; None when nothing moves or no scale is known."""
    move, length = span.action.move, move_length_mm(span, table)
    return None if move is None or length is None else _placed(span, move, length)


def check_moves(plan: Plan) -> None:
    """Refuses a move that cannot be placed. Raises PlanError, its line the action's place."""
    total = 0
    for place, span in enumerate(plan.spans(), start=1):
        move = span.action.move
        if move is None:
            continue
        total += span.exposures
        if total > MOST_PLACED:
            raise PlanError(f"All moves together have more than {MOST_PLACED:,} exposures.", place)
        try:
            table_path(move, plan.table)
        except TimingError as error:
            raise PlanError(f"In “{span.action.label}”: {error.sentence}", place) from error


def targets(span: Span, table: Table | None = None) -> tuple[Target, ...]:
    """The targets of an action's move, one an exposure. Raises PlanError when nothing moves."""
    move = span.action.move
    if move is None:
        raise PlanError(f"Nothing moves in “{span.action.label}”; give it a move.")
    on_table = table_path(move, table)
    path = on_table or (Path(move.points, move.curve) if move.points else None)
    length = path.length if path else float(move.length_mm or 0)
    placed = _placed(span, move, length)
    spots = path.at(np.array([tick.distance for tick in placed])) if path else None
    known = on_table is not None or path is None
    mm = spots if on_table else None
    pixels = _pixels(spots, mm, table)
    return tuple(_target(tick, n, mm, pixels, known) for n, tick in enumerate(placed))


def _placed(span: Span, move: Move, length: float) -> tuple[Tick, ...]:
    part = (float(move.part[0]), float(move.part[1]))
    return ticks(span.frames, move.easing, length, span.action.on, part)


def _pixels(spots: Floats | None, mm: Floats | None, table: Table | None) -> Floats | None:
    if mm is None:
        return spots
    return table.pixels(mm) if table else None


def _target(tick: Tick, n: int, mm: Floats | None, pixels: Floats | None, known: bool) -> Target:
    return Target(
        tick.exposure,
        tick.first_frame,
        tick.hold,
        tick.progress,
        _pair(mm, n),
        _pair(pixels, n),
        tick.step if known else None,
    )


def _pair(spots: Floats | None, n: int) -> tuple[float, float] | None:
    return None if spots is None else (float(spots[n, 0]), float(spots[n, 1]))
