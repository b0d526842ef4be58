"""The plan as JSON: the shapes that GET and PUT /plan speak, and what the library stores.

These Pydantic models are the contract of the resource. They check shapes only; what a plan may be
is decided by ``plan.py``, whose PlanError carries the place of the action, from 1, as its line.
"""

from collections.abc import Sequence
from dataclasses import asdict
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from standclear.timing.durations import Duration, Unit, duration, parse_tempo
from standclear.timing.easing_text import easing_text, parse_easing
from standclear.timing.errors import PlanError, TimingError
from standclear.timing.gravity import parse_scale
from standclear.timing.numbers import exact, number_text
from standclear.timing.paths import MOST_POINTS, Curve
from standclear.timing.plan import MOST_ACTIONS, Action, Move, Plan, Space, Tie
from standclear.timing.plan_text import LONGEST_TEXT
from standclear.timing.plan_words import pace_text, parse_pace
from standclear.timing.progress import Where

Number = float | int | str
Text = Annotated[str, Field(max_length=LONGEST_TEXT)]


class DurationJson(BaseModel):
    """A length of film time. The value is a number, or text such as ``"1/3"`` to be exact."""

    value: Number
    unit: Unit = "s"


class MoveJson(BaseModel):
    """What moves along what. ``easing`` is words: ``ease in``, ``bezier 0.2 0 0.4 1``, ``fall``."""

    length_mm: Number | None = None
    easing: str = Field("linear", max_length=200_000)
    points: list[tuple[float, float]] = Field(default_factory=list, max_length=MOST_POINTS)
    curve: Curve = "straight"
    space: Space = "picture"
    part: tuple[Number, Number] = (0, 1)


class ActionJson(BaseModel):
    """One action. Leave ``id`` out for a new one; ``pace`` is a word or ``12 mm/s``."""

    id: str | None = None
    label: str
    duration: DurationJson
    on: int = 1
    pace: str | None = None
    move: MoveJson | None = None
    notes: str = ""


class ActionOut(ActionJson):
    """An action as the service answers it: with its frames, and the distance of every exposure."""

    id: str
    first_frame: int
    last_frame: int
    frames: int
    exposures: int
    frames_shot: int
    positions_mm: list[float] | None = None


class WhereJson(BaseModel):
    """Where the shot stands; see ``progress.Where``. ``says`` is one line for the shutter pad."""

    model_config = ConfigDict(from_attributes=True)

    state: Literal["empty", "shooting", "done"]
    says: str
    action: str | None
    label: str | None
    notes: str
    frame: int
    frames: int
    exposure: int
    exposures: int
    hold: int
    ends_action: bool
    following: str | None
    just_ended: str | None
    frames_shot: int
    frames_left: int
    exposures_left: int
    skipped: list[str]


class InsertEdit(BaseModel):
    """Puts a new action at ``place`` (from 0; left out: at the end)."""

    op: Literal["insert"]
    new: ActionJson
    place: int | None = None


class SplitEdit(BaseModel):
    """Cuts an action after its first ``frames`` frames."""

    op: Literal["split"]
    action: str
    frames: int


class ReorderEdit(BaseModel):
    """Moves an action to ``place`` (from 0, counted without it)."""

    op: Literal["reorder"]
    action: str
    place: int


class StretchEdit(BaseModel):
    """Gives an action another duration."""

    op: Literal["stretch"]
    action: str
    duration: DurationJson


class DeleteEdit(BaseModel):
    """Takes an action out; what was shot for it stays tied to it."""

    op: Literal["delete"]
    action: str


Edit = Annotated[
    InsertEdit | SplitEdit | ReorderEdit | StretchEdit | DeleteEdit, Field(discriminator="op")
]


class PlanIn(BaseModel):
    """PUT /plan: exactly one of ``actions`` (the whole plan), ``text``, ``csv`` or ``edits``.

    With ``actions``, tempo and scale are replaced as well. Ids that were there before keep what was
    shot for them.
    """

    tempo: Number | None = None
    scale: Number = "1:1"
    actions: list[ActionJson] | None = Field(None, max_length=MOST_ACTIONS)
    text: Text | None = None
    csv: Text | None = None
    edits: list[Edit] | None = Field(None, max_length=100)

    @model_validator(mode="after")
    def _one_of(self) -> "PlanIn":
        given = [self.actions, self.text, self.csv, self.edits]
        if sum(item is not None for item in given) != 1:
            raise ValueError("give exactly one of actions, text, csv and edits")
        return self


class PlanOut(BaseModel):
    """GET /plan, and the answer of PUT /plan. ``text`` is the plan as it can be typed."""

    frame_rate: str
    tempo: Number | None
    scale: str
    actions: list[ActionOut]
    frame_count: int
    exposure_count: int
    duration_s: float
    where: WhereJson
    text: str
    revision: int


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
    }


def from_stored(data: dict[str, Any] | None, rate: Fraction) -> Plan:
    """The plan that was stored, at the shot's rate; an empty one for None. Raises PlanError."""
    if data is None:
        return Plan(rate)
    given = [ActionJson.model_validate(item) for item in data["actions"]]
    ties = tuple(Tie(**item) for item in data["ties"])
    head = Plan(rate, (), None, Fraction(1), ties)
    return assembled(data["tempo"], data["scale"], actions_from_json(given, head), head)


def assembled(tempo: object, scale: object, actions: Sequence[Action], before: Plan) -> Plan:
    """A plan at the rate and with the ties of ``before``. Raises PlanError."""
    try:
        beats = None if tempo is None else parse_tempo(tempo)
        return Plan(before.rate, tuple(actions), beats, parse_scale(scale), before.ties)  # type: ignore[arg-type]
    except PlanError:
        raise
    except TimingError as error:
        raise PlanError(error.sentence) from error


def duration_from_json(given: DurationJson) -> Duration:
    """The duration. Raises PlanError."""
    return duration(given.value, given.unit)
