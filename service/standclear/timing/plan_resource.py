"""What a PUT does to a plan, and what a GET answers: the pure half of /plan."""

from collections.abc import Sequence
from fractions import Fraction

from standclear.timing import plan_edit
from standclear.timing.errors import PlanError, TimingError
from standclear.timing.numbers import number_text
from standclear.timing.paths import Path
from standclear.timing.plan import Plan, Span, new_id
from standclear.timing.plan_csv import parse_csv
from standclear.timing.plan_json import (
    ActionOut,
    DeleteEdit,
    Edit,
    InsertEdit,
    PlanIn,
    PlanOut,
    ReorderEdit,
    SplitEdit,
    action_from_json,
    action_to_json,
    actions_from_json,
    assembled,
    duration_from_json,
    where_json,
)
from standclear.timing.plan_text import parse_plan
from standclear.timing.plan_text_writer import plan_text
from standclear.timing.progress import Shown, frame_owners, settle, where_shown
from standclear.timing.rates import rate_text
from standclear.timing.spacing import Tick, ticks


def changed(before: Plan, asked: PlanIn, shown: Sequence[Shown]) -> Plan:
    """The plan after a PUT; what was shot is tied by the plan before first. Raises PlanError."""
    tied = settle(before, shown)
    if asked.text is not None:
        return parse_plan(asked.text, tied.rate, tied)
    if asked.csv is not None:
        return parse_csv(asked.csv, tied.rate, tied)
    if asked.actions is not None:
        actions = actions_from_json(asked.actions, tied)
        return assembled(asked.tempo, asked.scale, actions, tied)
    for place, edit in enumerate(asked.edits or [], start=1):
        try:
            tied = _edited(tied, edit)
        except PlanError as error:
            raise PlanError(error.sentence, place) from error
    return tied


def _edited(plan: Plan, edit: Edit) -> Plan:
    if isinstance(edit, InsertEdit):
        action = action_from_json(edit.new, new_id(plan))
        return plan_edit.insert(plan, action, edit.place)
    if isinstance(edit, SplitEdit):
        return plan_edit.split(plan, edit.action, edit.frames)
    if isinstance(edit, ReorderEdit):
        return plan_edit.reorder(plan, edit.action, edit.place)
    if isinstance(edit, DeleteEdit):
        return plan_edit.delete(plan, edit.action)
    return plan_edit.stretch(plan, edit.action, duration_from_json(edit.duration))


def described(plan: Plan, shown: Sequence[Shown], revision: int) -> PlanOut:
    """The answer of GET /plan. ``shown``: the shot's exposures in order."""
    counts: dict[str | None, int] = {}
    for owner, item in zip(frame_owners(plan, shown), shown, strict=True):
        counts[owner] = counts.get(owner, 0) + item.hold
    return PlanOut(
        frame_rate=rate_text(plan.rate),
        tempo=None if plan.tempo is None else number_text(plan.tempo),
        scale=f"1:{number_text(plan.scale)}",
        actions=[_action_out(span, counts.get(span.action.id, 0)) for span in plan.spans()],
        frame_count=plan.frame_count,
        exposure_count=plan.exposure_count,
        duration_s=float(Fraction(plan.frame_count) / plan.rate),
        where=where_json(where_shown(plan, shown)),
        text=plan_text(plan),
        revision=revision,
    )


def _action_out(span: Span, frames_shot: int) -> ActionOut:
    placed = planned_ticks(span)
    return ActionOut(
        **action_to_json(span.action).model_dump(),
        first_frame=span.first,
        last_frame=span.last,
        frames=span.frames,
        exposures=span.exposures,
        frames_shot=frames_shot,
        positions_mm=None if placed is None else [round(tick.distance, 3) for tick in placed],
    )


def planned_ticks(span: Span) -> tuple[Tick, ...] | None:
    """The spacing of an action's move in mm; None without a move or without a length in mm."""
    length = move_length_mm(span)
    move = span.action.move
    if move is None or length is None:
        return None
    part = (float(move.part[0]), float(move.part[1]))
    return ticks(span.frames, move.easing, length, span.action.on, part)


def move_length_mm(span: Span) -> float | None:
    """How long the whole move is on the table, as typed or as drawn on the table."""
    move = span.action.move
    if move is None:
        return None
    if move.length_mm is not None:
        return float(move.length_mm)
    if move.space != "table":
        return None
    try:
        return Path(move.points, move.curve).length
    except TimingError:
        return None
