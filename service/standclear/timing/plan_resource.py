"""What a PUT does to a plan, and what a GET answers: the pure half of /plan."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from standclear.timing import plan_edit
from standclear.timing.errors import PlanError
from standclear.timing.gravity import natural_seconds
from standclear.timing.numbers import number_text
from standclear.timing.plan import Plan, Span, new_id
from standclear.timing.plan_convert import (
    action_from_json,
    action_to_json,
    actions_from_json,
    assembled,
    calibration_out,
    duration_from_json,
    table_from_json,
    where_json,
)
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
    TargetJson,
)
from standclear.timing.plan_text import parse_plan
from standclear.timing.plan_text_writer import plan_text
from standclear.timing.progress import Shown, frame_owners, settle, where_shown
from standclear.timing.rates import rate_text
from standclear.timing.targets import check_moves, move_length_mm, planned_ticks, targets


def changed(before: Plan, asked: PlanIn, shown: Sequence[Shown]) -> Plan:
    """The plan after a PUT; what was shot is tied by the plan before first.

    Raises PlanError, or TableError for a calibration that cannot be.
    """
    after = _asked_for(_recalibrated(settle(before, shown), asked), asked)
    check_moves(after)
    return after


def _asked_for(tied: Plan, asked: PlanIn) -> Plan:
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


def _recalibrated(plan: Plan, asked: PlanIn) -> Plan:
    if asked.calibration is not None:
        return replace(plan, table=table_from_json(asked.calibration))
    return replace(plan, table=None) if asked.forget_calibration else plan


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
        actions=[_action_out(plan, span, counts.get(span.action.id, 0)) for span in plan.spans()],
        calibration=calibration_out(plan.table) if plan.table else None,
        frame_count=plan.frame_count,
        exposure_count=plan.exposure_count,
        duration_s=float(Fraction(plan.frame_count) / plan.rate),
        where=where_json(where_shown(plan, shown)),
        text=plan_text(plan),
        revision=revision,
    )


def _action_out(plan: Plan, span: Span, frames_shot: int) -> ActionOut:
    placed = planned_ticks(span, plan.table)
    return ActionOut(
        **action_to_json(span.action).model_dump(),
        first_frame=span.first,
        last_frame=span.last,
        frames=span.frames,
        exposures=span.exposures,
        frames_shot=frames_shot,
        positions_mm=None if placed is None else [round(tick.distance, 3) for tick in placed],
        targets=_targets(plan, span),
        gravity_s=_gravity_s(plan, span),
    )


def _targets(plan: Plan, span: Span) -> list[TargetJson] | None:
    if span.action.move is None or not span.action.move.points:
        return None
    return [TargetJson.model_validate(target) for target in targets(span, plan.table)]


def _gravity_s(plan: Plan, span: Span) -> float | None:
    """How long gravity makes the action's fall, when it falls over a known height."""
    move, height = span.action.move, move_length_mm(span, plan.table)
    if move is None or not height:
        return None
    return natural_seconds(move.easing, height, float(plan.scale))
