"""Changed copies of a plan: insert, change, stretch, split, reorder, delete.

Exposures stay tied to the actions that they were shot for, whatever happens round them. Call
``progress.settle`` first, so that what has been shot is tied before the plan changes.
"""

from dataclasses import replace
from fractions import Fraction
from math import floor
from typing import Any

from standclear.timing.durations import Duration
from standclear.timing.errors import PlanError
from standclear.timing.plan import Action, Move, Plan, Tie, new_id


def insert(plan: Plan, action: Action, place: int | None = None) -> Plan:
    """The plan with ``action`` put at ``place`` (from 0; None: at the end)."""
    place = len(plan.actions) if place is None else place
    if not 0 <= place <= len(plan.actions):
        raise PlanError("There is no such place in the plan; read the plan again.")
    return replace(plan, actions=(*plan.actions[:place], action, *plan.actions[place:]))


def change(plan: Plan, action_id: str, **changes: Any) -> Plan:
    """The plan with some fields of an action replaced. Its id stays."""
    place = plan.index(action_id)
    changed = replace(plan.actions[place], **changes, id=action_id)
    return replace(plan, actions=(*plan.actions[:place], changed, *plan.actions[place + 1 :]))


def stretch(plan: Plan, action_id: str, duration: Duration) -> Plan:
    """The plan with another duration for an action; its move is spread over it."""
    return change(plan, action_id, duration=duration)


def reorder(plan: Plan, action_id: str, place: int) -> Plan:
    """The plan with an action moved to ``place`` (from 0, counted without it)."""
    action = plan.actions[plan.index(action_id)]
    return insert(delete(plan, action_id), action, place)


def delete(plan: Plan, action_id: str) -> Plan:
    """The plan without an action. What was shot for it stays tied to its id."""
    place = plan.index(action_id)
    return replace(plan, actions=plan.actions[:place] + plan.actions[place + 1 :])


def split(plan: Plan, action_id: str, frames: int) -> Plan:
    """The plan with an action cut after its first ``frames`` frames (1 to all but one; an action
    that lasts a fraction more keeps a whole frame and that fraction). Raises PlanError.

    The first part keeps the id. The sum stays exact, a move's positions stay where they were, and
    exposures past the cut are tied to the second part.
    """
    place = plan.index(action_id)
    span = plan.spans()[place]
    action, name = span.action, new_id(plan)
    whole = action.duration.exact_frames(plan.rate, plan.tempo)
    last_cut = min(span.frames, floor(whole)) - 1
    if last_cut < 1:
        raise PlanError(f"“{action.label}” is too short to be cut in two.")
    if not 1 <= frames <= last_cut:
        raise PlanError(f"Cut “{action.label}” after frame 1 to {last_cut}.")
    share = Fraction(frames, span.frames)
    first = replace(
        action,
        duration=Duration(Fraction(frames), "frames"),
        move=_part(action.move, Fraction(0), share),
    )
    second = replace(
        action,
        id=name,
        duration=_rest(plan, action, whole - frames),
        move=_part(action.move, share, Fraction(1)),
    )
    actions = (*plan.actions[:place], first, second, *plan.actions[place + 1 :])
    return replace(plan, actions=actions, ties=_divided(plan.ties, action_id, name, frames))


def _rest(plan: Plan, action: Action, frames: Fraction) -> Duration:
    """What is left after the cut: in frames when it is whole, else exact in the action's unit."""
    if frames.denominator == 1:
        return Duration(frames, "frames")
    whole = action.duration.exact_frames(plan.rate, plan.tempo)
    return Duration(action.duration.value * frames / whole, action.duration.unit)


def _part(move: Move | None, start: Fraction, end: Fraction) -> Move | None:
    """The stretch of a move between two shares of its time."""
    if move is None:
        return None
    low, high = move.part
    return replace(move, part=(low + (high - low) * start, low + (high - low) * end))


def _divided(ties: tuple[Tie, ...], old: str, new: str, frames: int) -> tuple[Tie, ...]:
    divided, shot = [], 0
    for tie in ties:
        if tie.action == old:
            past = shot >= frames
            shot += tie.frames
            divided.append(replace(tie, action=new) if past else tie)
        else:
            divided.append(tie)
    return tuple(divided)
