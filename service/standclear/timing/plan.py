"""The plan: a performance as an ordered list of actions, and the frames that they become.

Everything here is frozen; `plan_edit.py` makes changed copies, `progress.py` says where the shot
stands. Lengths are in mm on the table, points in picture pixels or in mm, as the move says.
"""

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Literal, get_args

from standclear.timing.durations import MOST_ON, Duration, exposures_needed, frame_ends
from standclear.timing.easing import LINEAR, Easing
from standclear.timing.errors import PlanError
from standclear.timing.paths import MOST_POINTS, Curve
from standclear.timing.table import Table

PaceName = Literal["hold", "slow", "medium", "fast"]
Space = Literal["picture", "table"]
PACES: tuple[PaceName, ...] = get_args(PaceName)
MOST_ACTIONS = 1000
LONGEST_LABEL = 200
LONGEST_NOTES = 2000
LONGEST_MOVE_MM = 100_000
FASTEST_MM_S = 100_000
CLOSEST = 1e-3  # between neighbouring points of a path, in their unit
_ID = re.compile(r"[A-Za-z0-9_-]{1,64}", re.ASCII)
# Line ends of every kind (the Unicode Standard, 5.8) and other controls, which no label holds.
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")
_CONTROL_IN_NOTES = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")


@dataclass(frozen=True, slots=True)
class Pace:
    """How an action should feel: a word, or a speed in mm of table a second of film."""

    name: PaceName | None = None
    speed_mm_s: Fraction | None = None

    def __post_init__(self) -> None:
        if (self.name is None) == (self.speed_mm_s is None):
            raise PlanError("A pace is hold, slow, medium or fast, or a speed in mm/s.")
        if self.name is not None and self.name not in PACES:
            raise PlanError("A pace is hold, slow, medium or fast, or a speed in mm/s.")
        if self.speed_mm_s is not None and not 0 < self.speed_mm_s <= FASTEST_MM_S:
            raise PlanError("A speed is more than 0 and at most 100,000 mm/s.")


@dataclass(frozen=True, slots=True)
class Move:
    """What moves along what: a length, a drawn path, or both, and how it is eased.

    ``length_mm`` is needed unless ``points`` lie on the table. ``part`` is the stretch of the
    easing's time that this action covers, (0, 1) unless a move was split between two actions.
    """

    length_mm: Fraction | None = None
    easing: Easing = LINEAR
    points: tuple[tuple[float, float], ...] = ()
    curve: Curve = "straight"
    space: Space = "picture"
    part: tuple[Fraction, Fraction] = (Fraction(0), Fraction(1))

    def __post_init__(self) -> None:
        if self.length_mm is None and not self.points:
            raise PlanError("A move needs a length in mm or a drawn path.")
        if self.length_mm is not None and not 0 < self.length_mm <= LONGEST_MOVE_MM:
            raise PlanError("A move is longer than 0 mm and at most 100 m.")
        if self.curve not in get_args(Curve) or self.space not in get_args(Space):
            raise PlanError("A path is straight or smooth, in picture or table units.")
        if self.points and not 2 <= len(self.points) <= MOST_POINTS:
            raise PlanError(f"A path has 2 to {MOST_POINTS} points.")
        if not all(math.isfinite(v) and abs(v) <= 1e6 for point in self.points for v in point):
            raise PlanError("A path's points must be plain numbers within a million.")
        object.__setattr__(self, "points", tuple((float(x), float(y)) for x, y in self.points))
        if any(math.dist(a, b) < CLOSEST for a, b in pairwise(self.points)):
            raise PlanError("Two neighbouring points of a path are the same; move or remove one.")
        if not 0 <= self.part[0] < self.part[1] <= 1:
            raise PlanError("A part of a move runs forward between 0 and 1.")


@dataclass(frozen=True, slots=True)
class Action:
    """One thing that happens. A hold is an action too."""

    id: str
    label: str
    duration: Duration
    on: int = 1
    pace: Pace | None = None
    move: Move | None = None
    notes: str = ""

    def __post_init__(self) -> None:
        if not _ID.fullmatch(self.id):
            raise PlanError("An action's id has 1 to 64 letters, digits, - or _.")
        object.__setattr__(self, "label", self.label.strip())
        object.__setattr__(self, "notes", self.notes.replace("\r\n", "\n").strip())
        if not self.label:
            raise PlanError("An action needs a name; write what happens.")
        if len(self.label) > LONGEST_LABEL or _CONTROL.search(self.label):
            raise PlanError("An action's name is one line of at most 200 characters.")
        if len(self.notes) > LONGEST_NOTES:
            raise PlanError("An action's notes have at most 2,000 characters.")
        if _CONTROL_IN_NOTES.search(self.notes):
            raise PlanError("An action's notes hold a control character; type them again.")
        if isinstance(self.on, bool) or not 1 <= self.on <= MOST_ON:
            raise PlanError("Shoot on ones, twos, threes … up to on 24s.")


@dataclass(frozen=True, slots=True)
class Tie:
    """An exposure that was shot for an action, and the frames that it is held for.

    ``action`` names an action that may since have been deleted; the tie is kept all the same.
    """

    exposure: str
    action: str
    frames: int

    def __post_init__(self) -> None:
        if not _ID.fullmatch(self.exposure) or not _ID.fullmatch(self.action):
            raise PlanError("A tie names an exposure and an action by their ids.")
        if not 1 <= self.frames <= 1_000_000:
            raise PlanError("An exposure is held for 1 frame or more.")


@dataclass(frozen=True, slots=True)
class Span:
    """The film frames of one action, counted from 1, first and last included."""

    action: Action
    first: int
    last: int

    @property
    def frames(self) -> int:
        """Frames shown."""
        return self.last - self.first + 1

    @property
    def exposures(self) -> int:
        """Pictures to take."""
        return exposures_needed(self.frames, self.action.on)


@dataclass(frozen=True, slots=True)
class Plan:
    """Ordered actions at a frame rate, the tempo for beats, and the set's scale (6 for 1:6).

    ``table`` is the calibration by which a path on the picture is measured in mm.
    """

    rate: Fraction
    actions: tuple[Action, ...] = ()
    tempo: Fraction | None = None
    scale: Fraction = Fraction(1)
    ties: tuple[Tie, ...] = ()
    table: Table | None = None

    def __post_init__(self) -> None:
        if len(self.actions) > MOST_ACTIONS:
            raise PlanError(f"A plan has at most {MOST_ACTIONS:,} actions; split the shot.")
        ids = {action.id for action in self.actions}
        if len(ids) != len(self.actions):
            raise PlanError("Two actions have the same id; give each its own.")
        if len({tie.exposure for tie in self.ties}) != len(self.ties):
            raise PlanError("An exposure is tied to two actions; tie it to one.")
        self.spans()  # refuses what is too short or too long

    def spans(self) -> tuple[Span, ...]:
        """The frames of every action. Their sum is the plan's duration, exact to the frame."""
        ends = frame_ends((action.duration for action in self.actions), self.rate, self.tempo)
        starts = (0, *ends)
        return tuple(
            Span(action, start + 1, end)
            for action, start, end in zip(self.actions, starts, ends, strict=False)
        )

    @property
    def frame_count(self) -> int:
        """All frames that the plan shows."""
        spans = self.spans()
        return spans[-1].last if spans else 0

    @property
    def exposure_count(self) -> int:
        """All pictures that it takes."""
        return sum(span.exposures for span in self.spans())

    def index(self, action_id: str) -> int:
        """The place of an action, from 0. Raises PlanError when it is not there."""
        for place, action in enumerate(self.actions):
            if action.id == action_id:
                return place
        raise PlanError("That action is not in the plan any more; read the plan again.")


def carried(before: Plan | None, rate: Fraction) -> Plan:
    """An empty plan that keeps what was shot and measured under the plan before."""
    if before is None:
        return Plan(rate)
    return Plan(rate, ties=before.ties, table=before.table)


def new_id(plan: Plan) -> str:
    """An action id that neither the plan nor any of its ties has used: a1, a2, …"""
    used = [action.id for action in plan.actions] + [tie.action for tie in plan.ties]
    numbers = [int(name[1:]) for name in used if re.fullmatch(r"a[0-9]{1,9}", name)]
    return f"a{max(numbers, default=0) + 1}"
