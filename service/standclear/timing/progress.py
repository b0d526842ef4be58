"""Where a shot stands in its plan: which action, frame n of m, what follows.

Exposures that are tied belong to the action they were shot for. The others go on from there in the
order of the plan, so that an action inserted before what was shot does not shift what was shot.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from standclear.timing.errors import PlanError
from standclear.timing.plan import Plan, Span, Tie


@dataclass(frozen=True, slots=True)
class Shown:
    """One exposure of the shot in order: its id and the frames it is held for."""

    exposure: str
    hold: int


@dataclass(frozen=True, slots=True)
class Where:
    """What the next exposure is. All numbers count from 1.

    ``state``: ``empty`` (no plan), ``shooting`` or ``done``. ``frame`` of ``frames`` is the next
    frame to shoot in the action, ``hold`` how long to hold it, ``ends_action`` whether it completes
    the action. ``just_ended`` is the action that the last exposure completed. ``skipped`` are
    actions before this one that have no exposure.
    """

    state: str
    action: str | None = None
    label: str | None = None
    notes: str = ""
    frame: int = 0
    frames: int = 0
    exposure: int = 0
    exposures: int = 0
    hold: int = 1
    ends_action: bool = False
    following: str | None = None
    just_ended: str | None = None
    frames_shot: int = 0
    frames_left: int = 0
    exposures_left: int = 0
    skipped: tuple[str, ...] = ()

    @property
    def says(self) -> str:
        """One line for the shutter pad, such as ``creep, frame 3 of 12``."""
        if self.state == "empty":
            return "No plan yet."
        if self.state == "done":
            return "The plan is shot."
        return f"{self.label}, frame {self.frame} of {self.frames}"


@dataclass
class _Cursor:
    """Walks the plan as exposures arrive: the action at hand and the frames it has."""

    spans: tuple[Span, ...]
    counts: list[int]
    place: int = 0

    def needs(self, place: int) -> int:
        return self.spans[place].frames - self.counts[place]

    def forward(self) -> None:
        while self.place < len(self.spans) and self.needs(self.place) <= 0:
            self.place += 1

    def take(self, hold: int) -> int:
        """Counts an untied exposure; what is too much spills over. Returns its action's place."""
        self.forward()
        home, left = self.place, hold
        while self.place < len(self.spans) and left > 0:
            given = min(left, self.needs(self.place))
            self.counts[self.place] += given
            left -= given
            self.forward()
        return home

    def take_for(self, place: int, hold: int) -> None:
        """Counts an exposure tied to an action, wherever the walk was."""
        self.counts[place] += hold
        self.place = place
        self.forward()


def where(plan: Plan, frames_shot: int) -> Where:
    """Where the shot stands when its first ``frames_shot`` frames follow the plan in order."""
    if frames_shot < 0:
        raise PlanError("The number of frames shot cannot be negative.")
    cursor = _Cursor(plan.spans(), [0] * len(plan.actions))
    last = _last_place(plan, frames_shot)
    if frames_shot:
        cursor.take(frames_shot)
    return _describe(plan, cursor, frames_shot, last)


def where_shown(plan: Plan, shown: Sequence[Shown]) -> Where:
    """Where the shot stands with these exposures, ties heeded."""
    cursor = _Cursor(plan.spans(), [0] * len(plan.actions))
    last: int | None = None
    for place in _walk(plan, shown, cursor):
        last = place
    return _describe(plan, cursor, sum(item.hold for item in shown), last)


def settle(plan: Plan, shown: Sequence[Shown]) -> Plan:
    """The plan with every exposure of the shot tied, and ties of vanished exposures dropped.

    Do this before a changed plan is stored, with the plan by which the exposures were shot.
    """
    cursor = _Cursor(plan.spans(), [0] * len(plan.actions))
    known = {tie.exposure: tie.action for tie in plan.ties}
    ties = []
    for item, place in zip(shown, _walk(plan, shown, cursor), strict=True):
        action = known.get(item.exposure)
        if action is None and place is not None:
            action = plan.actions[place].id
        if action is not None:
            ties.append(Tie(item.exposure, action, item.hold))
    return replace(plan, ties=tuple(ties))


def frame_owners(plan: Plan, shown: Sequence[Shown]) -> list[str | None]:
    """The action id of each exposure, None for one that is in no action of the plan."""
    cursor = _Cursor(plan.spans(), [0] * len(plan.actions))
    return [
        None if place is None else plan.actions[place].id for place in _walk(plan, shown, cursor)
    ]


def _walk(plan: Plan, shown: Sequence[Shown], cursor: _Cursor) -> Iterator[int | None]:
    """The place of each exposure's action, moving the cursor along."""
    places = {action.id: n for n, action in enumerate(plan.actions)}
    tied = {tie.exposure: tie.action for tie in plan.ties}
    for item in shown:
        if item.exposure not in tied:
            place = cursor.take(item.hold)
            yield place if place < len(plan.actions) else None
        elif tied[item.exposure] in places:
            place = places[tied[item.exposure]]
            cursor.take_for(place, item.hold)
            yield place
        else:  # shot for an action that was deleted: it moves nothing
            yield None


def _last_place(plan: Plan, frames_shot: int) -> int | None:
    """The place of the action that holds the last frame shot."""
    for place, span in enumerate(plan.spans()):
        if span.first <= frames_shot <= span.last:
            return place
    return None


def _describe(plan: Plan, cursor: _Cursor, frames_shot: int, last: int | None) -> Where:
    cursor.forward()
    ended = None
    if last is not None and cursor.needs(last) <= 0:
        ended = plan.actions[last].label
    if cursor.place >= len(plan.actions):
        state = "done" if plan.actions else "empty"
        return Where(
            state,
            just_ended=ended,
            frames_shot=frames_shot,
            skipped=_lacking(cursor, 0, cursor.place),
        )
    span, done = cursor.spans[cursor.place], cursor.counts[cursor.place]
    left = [cursor.needs(n) for n in range(cursor.place, len(cursor.spans))]
    ons = [s.action.on for s in cursor.spans[cursor.place :]]
    following = next(iter(_lacking(cursor, cursor.place + 1)), None)
    return Where(
        state="shooting",
        action=span.action.id,
        label=span.action.label,
        notes=span.action.notes,
        frame=done + 1,
        frames=span.frames,
        exposure=-(-done // span.action.on) + 1,
        exposures=span.exposures,
        hold=min(span.action.on, left[0]),
        ends_action=left[0] <= span.action.on,
        following=following,
        just_ended=ended,
        frames_shot=frames_shot,
        frames_left=sum(n for n in left if n > 0),
        exposures_left=sum(-(-n // on) for n, on in zip(left, ons, strict=True) if n > 0),
        skipped=_lacking(cursor, 0, cursor.place),
    )


def _lacking(cursor: _Cursor, start: int, end: int | None = None) -> tuple[str, ...]:
    """The actions in a stretch of the plan that still lack frames."""
    numbered = list(enumerate(cursor.spans))[start:end]
    return tuple(span.action.label for n, span in numbered if cursor.needs(n) > 0)
