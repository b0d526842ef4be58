"""What happens on the set, by time: a hand's visits, shadows, a passer-by, bumps, the lamp.

A :class:`HandScript` is a list of events; :meth:`Timeline.at` says what is going on at a moment.
Times are seconds from the script's start, read off the clock that the camera was given.

    HandScript((Visit(1.0), Visit(5.0, pause_s=3.0, edge="front", tool=True)))
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from threading import Lock

from standclear.cameras.rehearsal.geometry import STEADY, RigShift


@dataclass(frozen=True, slots=True)
class Visit:
    """A hand comes in, works on the cork, and leaves.

    It reaches in for ``enter_s``, moves the cork on by ``moves`` poses (0: touches nothing) and by
    ``moves_mm`` for ``work_s``, holds still beside it for ``pause_s``, withdraws for ``leave_s``,
    and on the way stops, still in the picture, for ``rest_s``. ``edge``: right, left, front.
    ``sleeve``: dark, plain, bare. ``tool``: a stick in its fingers; ``leaves_tool``: it stays on
    the table. ``wobble_s``: so long does the cork take to come to rest once let go.
    """

    at: float
    edge: str = "right"
    sleeve: str = "dark"
    tool: bool = False
    enter_s: float = 0.6
    work_s: float = 0.8
    pause_s: float = 0.0
    leave_s: float = 0.5
    rest_s: float = 0.0
    moves: int = 1
    moves_mm: tuple[float, float] = (0.0, 0.0)
    leaves_tool: bool = False
    wobble_s: float = 0.0

    @property
    def gone_at(self) -> float:
        """When the hand has left the picture's surroundings."""
        return self.at + self.enter_s + self.work_s + self.pause_s + self.rest_s + self.leave_s

    @property
    def ends(self) -> float:
        """When it has no effect any more but the moved cork."""
        return max(self.gone_at, self.at + self.enter_s + self.work_s + self.wobble_s)


@dataclass(frozen=True, slots=True)
class Shade:
    """A large soft shadow passes over the set: somebody moves in front of a window or lamp."""

    at: float
    lasts_s: float = 1.5
    depth: float = 0.25

    @property
    def ends(self) -> float:
        """When it has passed."""
        return self.at + self.lasts_s


@dataclass(frozen=True, slots=True)
class PasserBy:
    """A person walks past behind the set, from ``edge`` to the other side."""

    at: float
    lasts_s: float = 2.0
    edge: str = "left"

    @property
    def ends(self) -> float:
        """When the person is gone."""
        return self.at + self.lasts_s


@dataclass(frozen=True, slots=True)
class Flicker:
    """The lamp flickers: each picture's light differs by ``sd`` (a fraction)."""

    at: float
    lasts_s: float = 2.0
    sd: float = 0.02

    @property
    def ends(self) -> float:
        """When the lamp burns steadily again."""
        return self.at + self.lasts_s


@dataclass(frozen=True, slots=True)
class Bump:
    """The camera is pushed; it stays there. A bump back is the opposite shift (a re-seat)."""

    at: float
    shift: RigShift

    @property
    def ends(self) -> float:
        """At once."""
        return self.at


@dataclass(frozen=True, slots=True)
class Lamp:
    """The light changes and stays: gains at the left and the right edge, against before."""

    at: float
    left: float = 1.0
    right: float = 1.0

    @property
    def ends(self) -> float:
        """At once."""
        return self.at


@dataclass(frozen=True, slots=True)
class TakeToolAway:
    """The tool that was left behind is gone."""

    at: float

    @property
    def ends(self) -> float:
        """At once."""
        return self.at


Event = Visit | Shade | PasserBy | Flicker | Bump | Lamp | TakeToolAway


@dataclass(frozen=True, slots=True)
class HandScript:
    """Events, in any order; times are seconds from when the camera is told to run it."""

    events: Sequence[Event]

    @property
    def lasts_s(self) -> float:
        """When the last event is over."""
        return max((event.ends for event in self.events), default=0.0)


@dataclass(frozen=True, slots=True)
class HandPlace:
    """Where the hand is: ``inward`` from 0 (outside) to 1 (at the cork), and how it looks."""

    inward: float
    edge: str = "right"
    sleeve: str = "dark"
    tool: bool = False
    tremble_px: float = 0.0


@dataclass(frozen=True, slots=True)
class Happening:
    """All that the script adds to the set at one moment.

    ``moved`` whole poses done, ``part`` of the next one (0 to 1), ``moved_mm`` on top, ``lean_deg``
    the wobble. ``drawn``: while a hand moves the cork, the poses and mm of the nearer end of the
    move (the drawing that is slid along), else ``None``.
    ``shade`` and ``passer``: how far they have come (0 to 1), or ``None``.
    """

    hand: HandPlace | None = None
    moved: int = 0
    part: float = 0.0
    moved_mm: tuple[float, float] = (0.0, 0.0)
    lean_deg: float = 0.0
    drawn: tuple[int, tuple[float, float]] | None = None
    tool_left: bool = False
    shade: float | None = None
    shade_depth: float = 0.0
    passer: float | None = None
    passer_edge: str = "left"
    flicker_sd: float = 0.0
    rig: RigShift = STEADY
    left: float = 1.0
    right: float = 1.0


def ease(t: float) -> float:
    """A smooth step from 0 to 1."""
    t = min(1.0, max(0.0, t))
    return t * t * (3.0 - 2.0 * t)


class Timeline:
    """Events on the clock. Safe to add to from another thread."""

    def __init__(self) -> None:
        self._open: list[Event] = []
        self._settled = Happening()
        self._lock = Lock()

    def add(self, events: Iterable[Event], start: float) -> None:
        """Add events; their times count from ``start`` (monotonic seconds)."""
        with self._lock:
            self._open += [replace(event, at=event.at + start) for event in events]
            self._open.sort(key=lambda event: event.at)

    def quiet(self, now: float) -> bool:
        """Whether nothing is going on and nothing more is to come."""
        self.at(now)
        return not self._open

    def at(self, now: float) -> Happening:
        """What is going on at that time; times asked for must not go backwards."""
        with self._lock:
            over = [event for event in self._open if event.ends <= now]
            for event in over:
                self._settled = _after(self._settled, event)
            self._open = [event for event in self._open if event.ends > now]
            state = self._settled
            for event in self._open:
                if event.at <= now:
                    state = _during(state, event, now - event.at)
            return state


def _after(state: Happening, event: Event) -> Happening:
    """What an event leaves behind when it is over."""
    if isinstance(event, Visit):
        mm = (state.moved_mm[0] + event.moves_mm[0], state.moved_mm[1] + event.moves_mm[1])
        left = state.tool_left or (event.tool and event.leaves_tool)
        return replace(state, moved=state.moved + event.moves, moved_mm=mm, tool_left=left)
    if isinstance(event, Bump):
        return replace(state, rig=state.rig.plus(event.shift))
    if isinstance(event, Lamp):
        return replace(state, left=state.left * event.left, right=state.right * event.right)
    if isinstance(event, TakeToolAway):
        return replace(state, tool_left=False)
    return state


def _during(state: Happening, event: Event, t: float) -> Happening:
    """What an event adds while it lasts; ``t`` seconds since it began."""
    if isinstance(event, Visit):
        return _visiting(state, event, t)
    if isinstance(event, Shade):
        return replace(state, shade=t / event.lasts_s, shade_depth=event.depth)
    if isinstance(event, PasserBy):
        return replace(state, passer=t / event.lasts_s, passer_edge=event.edge)
    if isinstance(event, Flicker):
        return replace(state, flicker_sd=math.hypot(state.flicker_sd, event.sd))
    return state


def _visiting(state: Happening, visit: Visit, t: float) -> Happening:
    working = t - visit.enter_s
    done = ease(working / visit.work_s) if visit.work_s > 0 else float(working >= 0)
    mm = tuple(
        have + done * more for have, more in zip(state.moved_mm, visit.moves_mm, strict=True)
    )
    whole, part = divmod(done * visit.moves, 1.0)
    drawn = state.drawn
    if 0.0 < done < 1.0 and (visit.moves or any(visit.moves_mm)):
        near = round(done)
        x, y = (h + near * m for h, m in zip(state.moved_mm, visit.moves_mm, strict=True))
        drawn = (state.moved + near * visit.moves, (x, y))
    left_alone = working - visit.work_s
    lean = 0.0
    if 0.0 < left_alone < visit.wobble_s:
        fade = (1.0 - left_alone / visit.wobble_s) ** 2
        lean = 4.0 * fade * math.sin(2.0 * math.pi * 3.2 * left_alone)
    hand = _hand_of(visit, t)
    away = t > visit.enter_s + visit.work_s + visit.pause_s + 0.5 * visit.leave_s + visit.rest_s
    tool_left = state.tool_left or (visit.leaves_tool and visit.tool and away)
    if hand is not None and tool_left and not state.tool_left:
        hand = replace(hand, tool=False)
    return replace(
        state,
        hand=hand or state.hand,
        moved=state.moved + int(whole),
        part=part,
        moved_mm=(mm[0], mm[1]),
        lean_deg=lean,
        drawn=drawn,
        tool_left=tool_left,
    )


def _hand_of(visit: Visit, t: float) -> HandPlace | None:
    """Where the hand is, ``t`` seconds into its visit."""
    leaving = t - visit.enter_s - visit.work_s - visit.pause_s
    tremble = 0.0
    if t < visit.enter_s:
        inward = ease(t / visit.enter_s)
    elif leaving < 0:
        inward = 1.0
        working = (t - visit.enter_s) / max(visit.work_s, 1e-9)
        tremble = 2.5 * math.sin(math.pi * min(1.0, working)) * math.sin(19.0 * t)
    else:
        inward = _withdrawn(leaving, visit)
    if leaving >= visit.leave_s + visit.rest_s:
        return None
    return HandPlace(inward, visit.edge, visit.sleeve, visit.tool, tremble)


def _withdrawn(leaving: float, visit: Visit) -> float:
    """The way out, with a rest half-way where ordered."""
    half = visit.leave_s / 2.0
    if visit.rest_s <= 0.0:
        return 1.0 - ease(leaving / max(visit.leave_s, 1e-9))
    if leaving < half:
        return 1.0 - 0.5 * ease(leaving / half)
    if leaving < half + visit.rest_s:
        return 0.5
    return 0.5 - 0.5 * ease((leaving - half - visit.rest_s) / half)
