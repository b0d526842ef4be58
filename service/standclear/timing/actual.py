"""The plan against what was shot: spacing, rushing, slow parts, two things at once, pace.

All results are frozen dataclasses of plain values, so that ``dataclasses.asdict`` is their JSON.
Spacing is in mm of table where a scale is known, else in the unit that was measured.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from statistics import median

from standclear.timing.plan import Plan, Span
from standclear.timing.progress import Shown, frame_owners
from standclear.timing.spacing import Tick
from standclear.timing.table import Table
from standclear.timing.targets import planned_ticks

# Common practice, no source: what a viewer takes for the same speed; tune on rehearsals.
RUSHED = 1.3  # a step this many times the planned one is faster than planned
SHORT = 0.9  # an action shot in less than this share of its frames is shorter than planned
SLOW_SHARE = 0.5  # a step below this share of the action's mean step is a slow part
STILL_MM = 0.5  # below this nothing has moved
FEWEST_FOR_SLOW = 6  # a move of fewer exposures cannot be asked for a slow part
LONG_BREAK = 3.0  # a gap of this many median gaps is a break, not work


@dataclass(frozen=True, slots=True)
class Measured:
    """What the pose watch measured on one exposure: how far things moved since the last one.

    ``step`` in mm (or the watch's unit), None when it cannot tell; ``moving`` how many separate
    things moved; ``taken_at`` in UTC.
    """

    exposure: str
    hold: int
    step: float | None
    moving: int | None
    taken_at: datetime


@dataclass(frozen=True, slots=True)
class FrameSpacing:
    """One exposure in the chart. ``frame`` is its first frame in the shot, from 1."""

    exposure: str
    frame: int
    hold: int
    action: str | None
    planned: float | None
    measured: float | None
    band: str | None
    rushed: bool


@dataclass(frozen=True, slots=True)
class Remark:
    """A sentence about an action or a frame. ``kind``: rushed, short, no_slow_part, two_at_once."""

    kind: str
    action: str | None
    frame: int
    says: str


@dataclass(frozen=True, slots=True)
class Pace:
    """How the shooting goes: pictures an hour while at work, and the time left at that pace."""

    pictures: int
    pictures_an_hour: float | None
    median_seconds: float | None
    exposures_left: int
    seconds_left: float | None


@dataclass(frozen=True, slots=True)
class Actual:
    """Plan against actual for a whole shot."""

    frames: tuple[FrameSpacing, ...]
    remarks: tuple[Remark, ...]


def compare(plan: Plan, measured: Sequence[Measured]) -> Actual:
    """The chart by exposure and what there is to say about it."""
    owners = frame_owners(plan, [Shown(item.exposure, item.hold) for item in measured])
    spacing = _spacing(plan, measured, owners)
    remarks = [*_rushed(plan, spacing), *_short(plan, spacing, owners)]
    remarks += [*_without_slow_part(plan, spacing), *_two_at_once(plan, measured, spacing)]
    return Actual(tuple(spacing), tuple(sorted(remarks, key=lambda remark: remark.frame)))


def _spacing(
    plan: Plan, measured: Sequence[Measured], owners: Sequence[str | None]
) -> list[FrameSpacing]:
    spans = {span.action.id: span for span in plan.spans()}
    planned = {name: _planned_steps(span, plan.table) for name, span in spans.items()}
    done: dict[str | None, int] = {}
    frame, rows = 1, []
    for item, owner in zip(measured, owners, strict=True):
        before = done.get(owner, 0)
        done[owner] = before + item.hold
        step = _planned_step(planned.get(owner or "", ()), before, item.hold)
        rows.append(_row(item, frame, owner, step))
        frame += item.hold
    return _with_bands(rows)


def _row(item: Measured, frame: int, owner: str | None, planned: float | None) -> FrameSpacing:
    rushed = (
        planned is not None
        and item.step is not None
        and item.step > max(planned * RUSHED, planned + STILL_MM)
    )
    return FrameSpacing(item.exposure, frame, item.hold, owner, planned, item.step, None, rushed)


def _planned_steps(span: Span, table: Table | None) -> tuple[Tick, ...] | None:
    """The ticks of a move; an empty row for an action in which nothing moves; None: unknown."""
    return planned_ticks(span, table) if span.action.move else ()


def _planned_step(placed: Sequence[Tick] | None, before: int, hold: int) -> float | None:
    """The way planned for an exposure that shows the action's frames from ``before`` + 1 on."""
    if placed is None:
        return None
    last = before + hold
    return float(sum(abs(t.step) for t in placed if before < t.first_frame <= last))


def _with_bands(rows: Sequence[FrameSpacing]) -> list[FrameSpacing]:
    """Each row with ``still``, ``slow``, ``middle`` or ``fast`` against its action's mean step."""
    means: dict[str | None, float] = {}
    for name in {row.action for row in rows}:
        steps = [_moved(r) for r in rows if r.action == name and _moved(r) > STILL_MM]
        means[name] = sum(steps) / len(steps) if steps else 0.0
    return [_banded(row, means[row.action]) for row in rows]


def _banded(row: FrameSpacing, mean: float) -> FrameSpacing:
    if row.measured is None:
        return row
    step = row.measured
    if step <= STILL_MM or not mean:
        band = "still"
    elif step < mean * SLOW_SHARE:
        band = "slow"
    else:
        band = "fast" if step > mean / SLOW_SHARE else "middle"
    return FrameSpacing(
        row.exposure, row.frame, row.hold, row.action, row.planned, step, band, row.rushed
    )


def _moved(row: FrameSpacing) -> float:
    return 0.0 if row.measured is None else row.measured


def _rushed(plan: Plan, rows: Sequence[FrameSpacing]) -> list[Remark]:
    """Actions in which some steps were wider than planned."""
    remarks = []
    for action in plan.actions:
        fast = [row for row in rows if row.action == action.id and row.rushed]
        if fast:
            worst = max(fast, key=lambda row: _moved(row) - (row.planned or 0))
            says = (
                f"“{action.label}” rushes at frame {worst.frame}: {_moved(worst):.1f} moved where "
                f"{worst.planned or 0:.1f} was planned ({len(fast)} in all)."
            )
            remarks.append(Remark("rushed", action.id, worst.frame, says))
    return remarks


def _short(plan: Plan, rows: Sequence[FrameSpacing], owners: Sequence[str | None]) -> list[Remark]:
    """Actions that were left for the next one with too few frames."""
    remarks = []
    for span in plan.spans():
        name = span.action.id
        own = [row for row in rows if row.action == name]
        left = bool(own) and owners[-1] != name
        frames = sum(row.hold for row in own)
        if left and frames < span.frames * SHORT:
            says = (
                f"“{span.action.label}” has {frames} frames where {span.frames} were planned; "
                "hold it longer."
            )
            remarks.append(Remark("short", name, own[-1].frame, says))
    return remarks


def _without_slow_part(plan: Plan, rows: Sequence[FrameSpacing]) -> list[Remark]:
    """Moves, shot to their end, that go at one speed throughout."""
    remarks = []
    for span in plan.spans():
        own = [row for row in rows if row.action == span.action.id and row.measured is not None]
        frames = sum(row.hold for row in own)
        enough = len(own) >= FEWEST_FOR_SLOW and frames >= span.frames * SHORT
        if span.action.move is None or not enough:
            continue
        if not any(row.band in ("slow", "still") for row in own):
            says = f"“{span.action.label}” has no slow part; start or end it with closer spacing."
            remarks.append(Remark("no_slow_part", span.action.id, own[0].frame, says))
    return remarks


def _two_at_once(
    plan: Plan, measured: Sequence[Measured], rows: Sequence[FrameSpacing]
) -> list[Remark]:
    """Actions in which separate things moved between the same two exposures."""
    names = {action.id: action.label for action in plan.actions}
    first: dict[str | None, FrameSpacing] = {}
    counts: dict[str | None, int] = {}
    for item, row in zip(measured, rows, strict=True):
        if item.moving is not None and item.moving > 1:
            first.setdefault(row.action, row)
            counts[row.action] = counts.get(row.action, 0) + 1
    return [
        Remark(
            "two_at_once",
            name,
            row.frame,
            f"Two things move at once from frame {row.frame} of the shot"
            f"{f' in “{names[name]}”' if name in names else ''} ({counts[name]} exposures); "
            "one action at a time reads better.",
        )
        for name, row in first.items()
    ]


def pace(taken_at: Sequence[datetime], exposures_left: int) -> Pace:
    """Pictures an hour from the times of the exposures, breaks left out, and the time left."""
    times = sorted(taken_at)
    gaps = [(b - a).total_seconds() for a, b in pairwise(times)]
    if not gaps:
        return Pace(len(times), None, None, exposures_left, None)
    middle = median(gaps)
    work = [gap for gap in gaps if gap <= max(middle * LONG_BREAK, 1e-9)]
    mean = sum(work) / len(work)
    an_hour = 3600 / mean if mean > 0 else None
    return Pace(len(times), an_hour, middle, exposures_left, mean * exposures_left)
