"""The plan as JSON: the shapes that GET and PUT /plan speak, and what the library stores.

These Pydantic models are the contract of the resource. They check shapes only; what a plan may be
is decided by ``plan.py``, whose PlanError carries the place of the action, from 1, as its line.
"""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from standclear.timing.durations import Unit
from standclear.timing.paths import MOST_POINTS, Curve
from standclear.timing.plan import MOST_ACTIONS, Space
from standclear.timing.plan_text import LONGEST_TEXT
from standclear.timing.table import TAP_SD_PX

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


class TargetJson(BaseModel):
    """Where the object goes in one exposure: on the picture, on the table, and how far that is."""

    model_config = ConfigDict(from_attributes=True)

    exposure: int
    first_frame: int
    hold: int
    progress: float
    table_mm: tuple[float, float] | None
    picture_px: tuple[float, float] | None
    step_mm: float | None


class ActionOut(ActionJson):
    """An action as the service answers it: with its frames, and the distance of every exposure.

    ``targets`` are given for a drawn path only. ``gravity_s`` is how long a fall or bounce of that
    height lasts at the set's scale.
    """

    id: str
    first_frame: int
    last_frame: int
    frames: int
    exposures: int
    frames_shot: int
    positions_mm: list[float] | None = None
    targets: list[TargetJson] | None = None
    gravity_s: float | None = None


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


class CalibrationJson(BaseModel):
    """Four tapped corners of a rectangle lying on the table, in order round it, either way.

    ``corners`` in pixels of a picture of the given size. Name a known ``rectangle`` (A4, Letter,
    ID-1) and whether the edge from the first corner to the second is long, or type both edges.
    """

    corners: list[tuple[float, float]] = Field(min_length=4, max_length=4)
    picture_width: int = Field(ge=1, le=100_000)
    picture_height: int = Field(ge=1, le=100_000)
    rectangle: Literal["A4", "Letter", "ID-1"] | None = None
    long_edge_first: bool = True
    first_edge_mm: float | None = None
    second_edge_mm: float | None = None
    tap_sd_px: float = TAP_SD_PX


class CalibrationOut(CalibrationJson):
    """The calibration with its error: the worst standard error of a diagonal, in percent."""

    error_percent: float
    says: str


class PlanIn(BaseModel):
    """PUT /plan: at most one of ``actions`` (the whole plan), ``text``, ``csv`` or ``edits``.

    With ``actions``, tempo and scale are replaced as well. Ids that were there before keep what was
    shot for them. A ``calibration`` may come along or alone; the old one stays until
    ``forget_calibration``, which is due when the camera has moved.
    """

    tempo: Number | None = None
    scale: Number = "1:1"
    actions: list[ActionJson] | None = Field(None, max_length=MOST_ACTIONS)
    text: Text | None = None
    csv: Text | None = None
    edits: list[Edit] | None = Field(None, max_length=100)
    calibration: CalibrationJson | None = None
    forget_calibration: bool = False

    @model_validator(mode="after")
    def _one_of(self) -> "PlanIn":
        given = [self.actions, self.text, self.csv, self.edits]
        count = sum(item is not None for item in given)
        alone = self.calibration is not None or self.forget_calibration
        if count > 1 or (count == 0 and not alone):
            raise ValueError("give one of actions, text, csv and edits, or a calibration")
        return self


class PlanOut(BaseModel):
    """GET /plan, and the answer of PUT /plan. ``text`` is the plan as it can be typed.

    ``calibration_due`` says why the table must be measured again; null while its scale holds.
    """

    frame_rate: str
    tempo: Number | None
    scale: str
    actions: list[ActionOut]
    frame_count: int
    exposure_count: int
    duration_s: float
    calibration: CalibrationOut | None
    calibration_due: str | None = None
    where: WhereJson
    text: str
    revision: int
