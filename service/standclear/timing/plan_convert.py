"""Between the plan and its JSON, for the store and for the resource. Nothing is lost either way."""

from collections.abc import Sequence
from dataclasses import asdict, replace
from fractions import Fraction
from typing import Any

from standclear.timing.durations import Duration, duration, parse_tempo
from standclear.timing.easing_text import easing_text, parse_easing
from standclear.timing.errors import PlanError, TableError, TimingError
from standclear.timing.gravity import parse_scale
from standclear.timing.numbers import exact, number_text
from standclear.timing.plan import Action, Move, Plan, Tie
from standclear.timing.plan_json import (
    ActionJson,
    CalibrationJson,
    CalibrationOut,
    DurationJson,
    MoveJson,
    Number,
    WhereJson,
)
from standclear.timing.plan_words import pace_text, parse_pace
from standclear.timing.progress import Where
from standclear.timing.table import Table, calibrate, known_rectangle


def table_from_json(given: CalibrationJson) -> Table:
    """The calibrated table. Raises TableError with a sentence."""
    if given.rectangle is not None:
        first, second = known_rectangle(given.rectangle, given.long_edge_first)
    elif given.first_edge_mm is not None and given.second_edge_mm is not None:
        first, second = given.first_edge_mm, given.second_edge_mm
    else:
        raise TableError("Name the rectangle (A4, Letter, ID-1) or type both its edges in mm.")
    size = (given.picture_width, given.picture_height)
    return calibrate(given.corners, first, second, given.tap_sd_px, size)


def _calibration(table: Table) -> CalibrationJson:
    width, height = table.picture or (1, 1)
    return CalibrationJson(
        corners=list(table.corners),
        picture_width=width,
        picture_height=height,
        first_edge_mm=table.first_edge_mm,
        second_edge_mm=table.second_edge_mm,
        tap_sd_px=table.tap_sd_px,
    )


def calibration_out(table: Table) -> CalibrationOut:
    """The calibration as it is answered, with its error in words."""
    error = table.error_percent()
    says = f"Lengths on the table are known to within {error:.1f} % (one standard deviation)."
    return CalibrationOut(**_calibration(table).model_dump(), error_percent=error, says=says)


def where_json(where: Where) -> WhereJson:
    """Where as JSON, with its sentence."""
    return WhereJson(**asdict(where), says=where.says)


def action_from_json(given: ActionJson, name: str) -> Action:
    """The action. Raises PlanError."""
    try:
        return Action(
            given.id or name,
            given.label,
            duration(given.duration.value, given.duration.unit),
            given.on,
            parse_pace(" ".join(given.pace.lower().split())) if given.pace else None,
            _move_from(given.move) if given.move else None,
            given.notes,
        )
    except PlanError:
        raise
    except TimingError as error:
        raise PlanError(error.sentence) from error


def actions_from_json(given: Sequence[ActionJson], before: Plan) -> tuple[Action, ...]:
    """All actions, new ones with ids that nothing in ``before`` has used."""
    used = {a.id for a in before.actions} | {t.action for t in before.ties} | {a.id for a in given}
    fresh = (name for n in range(1, 10**9) if (name := f"a{n}") not in used)
    made = []
    for place, item in enumerate(given, start=1):
        try:
            made.append(action_from_json(item, item.id or next(fresh)))
        except PlanError as error:
            raise error.at(place) from error
    return tuple(made)


def _move_from(given: MoveJson) -> Move:
    return Move(
        None if given.length_mm is None else exact(given.length_mm),
        parse_easing(given.easing),
        tuple(given.points),
        given.curve,
        given.space,
        (exact(given.part[0]), exact(given.part[1])),
    )


def action_to_json(action: Action) -> ActionJson:
    """The action as JSON that reads back as the same action."""
    return ActionJson(
        id=action.id,
        label=action.label,
        duration=DurationJson(value=_number(action.duration.value), unit=action.duration.unit),
        on=action.on,
        pace=pace_text(action.pace) if action.pace else None,
        move=_move_to(action.move) if action.move else None,
        notes=action.notes,
    )


def _move_to(move: Move) -> MoveJson:
    return MoveJson(
        length_mm=None if move.length_mm is None else _number(move.length_mm),
        easing=easing_text(move.easing),
        points=list(move.points),
        curve=move.curve,
        space=move.space,
        part=(_number(move.part[0]), _number(move.part[1])),
    )


def _number(value: Fraction) -> Number:
    """A plain number where that is exact, else text such as ``1/3``."""
    if value.denominator == 1:
        return value.numerator
    as_float = float(value)
    return (
        as_float if "e" not in repr(as_float) and exact(as_float) == value else number_text(value)
    )


def stored(plan: Plan) -> dict[str, Any]:
    """What the library keeps: everything but the rate, which is the shot's."""
    return {
        "tempo": None if plan.tempo is None else _number(plan.tempo),
        "scale": f"1:{number_text(plan.scale)}",
        "actions": [action_to_json(action).model_dump() for action in plan.actions],
        "ties": [asdict(tie) for tie in plan.ties],
        "calibration": _calibration(plan.table).model_dump() if plan.table else None,
    }


def from_stored(data: dict[str, Any] | None, rate: Fraction) -> Plan:
    """The plan that was stored, at the shot's rate; an empty one for None. Raises PlanError."""
    if data is None:
        return Plan(rate)
    given = [ActionJson.model_validate(item) for item in data["actions"]]
    ties = tuple(Tie(**item) for item in data["ties"])
    tapped = data.get("calibration")
    table = table_from_json(CalibrationJson.model_validate(tapped)) if tapped else None
    head = Plan(rate, ties=ties, table=table)
    return assembled(data["tempo"], data["scale"], actions_from_json(given, head), head)


def assembled(tempo: Number | None, scale: Number, actions: Sequence[Action], before: Plan) -> Plan:
    """A plan at the rate and with the ties of ``before``. Raises PlanError."""
    try:
        beats = None if tempo is None else parse_tempo(tempo)
        return replace(before, actions=tuple(actions), tempo=beats, scale=parse_scale(scale))
    except PlanError:
        raise
    except TimingError as error:
        raise PlanError(error.sentence) from error


def duration_from_json(given: DurationJson) -> Duration:
    """The duration. Raises PlanError."""
    return duration(given.value, given.unit)
