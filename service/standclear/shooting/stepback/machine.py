"""One step of the step-back trigger: where it stands, and what a happening makes of it.

:func:`step` walks the table in ``states.py``; :func:`mean` decides beforehand what a study's
verdict means here: the same changed pose is to be taken after a visit, asked about without one.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from standclear.shooting.stepback.states import TABLE, Cause, Happening, State

Verdict = Literal[
    "changed",
    "unchanged",
    "at_edge",
    "hand_was_learnt",
    "shadow",
    "light",
    "bumped",
    "left_behind",
    "large_change",
]

PATIENT_S = 3.0
"""Light or a shadow that stays so long is asked about."""

EDGE_PATIENT_S = 10.0
"""Something at the edge that rests so long is asked about; a resting hand seldom does."""

_WAITS_FOR_LIGHT: tuple[Cause, ...] = ("light_stays", "shadow", "light")
_NOBODY: tuple[Happening, ...] = ("still", "shadow", "light")
_FRESH_VISIT: tuple[State, ...] = ("watching", "asking", "blocked", "rest", "held_back", "blind")


@dataclass(frozen=True, slots=True)
class Options:
    """``only_ask``: ready the shutter and wait for a press; ``countdown_s``: light taps before
    it fires; ``limit``: pictures until it holds back by itself (``None``: none); ``by_action``:
    hold back too when an action of the plan is complete."""

    only_ask: bool = False
    countdown_s: float = 0.0
    limit: int | None = None
    by_action: bool = True


@dataclass(frozen=True, slots=True)
class Moment:
    """Where the machine stands.

    ``visited``: hands came in since the last picture; ``came``, ``went``: the edges they touched
    first and last; ``careful``: the camera was bumped since, so ask first; ``armed``: held back,
    and nobody is in the picture, so that the next hand is a new visit; ``taken``: pictures so
    far, ``counted``: those that count toward the limit.
    """

    state: State = "learning"
    cause: Cause = ""
    visited: bool = False
    came: tuple[str, ...] = ()
    went: tuple[str, ...] = ()
    careful: bool = False
    armed: bool = False
    taken: int = 0
    counted: int = 0


def step(moment: Moment, happening: Happening, edges: tuple[str, ...] = ()) -> Moment:
    """The next moment. ``edges`` are those touched by what was glanced at."""
    if moment.state == "held_back":
        hands = happening in ("hands", "touching")
        if hands and (not moment.armed or moment.cause == "action_done"):
            return moment
        moment = replace(moment, armed=moment.armed or happening in _NOBODY)
    goal = TABLE.get((moment.state, happening))
    moment = _visit(moment, happening, edges)
    if goal is None:
        return moment
    return _remember(replace(moment, state=goal[0], cause=goal[1]), moment, happening)


def _visit(moment: Moment, happening: Happening, edges: tuple[str, ...]) -> Moment:
    """Note who comes in, and by which edge."""
    if happening not in ("hands", "touching") or moment.state in ("learning", "take"):
        return moment
    if not moment.visited or moment.state in _FRESH_VISIT:
        moment = replace(moment, came=edges)
    return replace(moment, visited=True, went=edges or moment.went)


def _remember(moment: Moment, before: Moment, happening: Happening) -> Moment:
    """What a change of state leaves behind."""
    if happening == "hold_back":
        # Held with a hand in: that hand is not a new visit. Anywhere else the next one is.
        return replace(moment, armed=before.state != "hands_in")
    if happening in ("taken", "exposed"):
        moment = replace(moment, visited=False, came=(), went=(), careful=False)
        return replace(moment, taken=moment.taken + 1, counted=moment.counted + 1)
    if happening == "press" and before.cause == "action_done":
        return replace(moment, counted=0)
    if happening == "bumped":
        return replace(moment, careful=True)
    if happening in ("as_before", "passed_by", "learnt", "accept"):
        return replace(moment, visited=False, came=(), went=(), careful=False)
    return moment


_ALWAYS: Mapping[Verdict, Happening] = {"hand_was_learnt": "learn_again", "bumped": "bumped"}


def mean(
    verdict: Verdict, moment: Moment, options: Options, *, waited_s: float
) -> Happening | None:
    """What a study's verdict means where the machine stands; ``None``: nothing.

    ``waited_s``: how long the set has rested as it is now.
    """
    if verdict in _ALWAYS:
        return _ALWAYS[verdict]
    if verdict == "at_edge":
        return "edge_stays" if waited_s >= EDGE_PATIENT_S else "resting"
    if verdict in ("shadow", "light"):
        return "light_stays" if waited_s >= PATIENT_S else None
    if verdict == "unchanged":
        return _unchanged(moment)
    return _changed(verdict, moment, options)


def _changed(verdict: Verdict, moment: Moment, options: Options) -> Happening | None:
    """Something differs: is it a pose to be taken?"""
    if moment.state in ("asking", "blocked"):
        waits = moment.cause in _WAITS_FOR_LIGHT or moment.state == "blocked"
        return "settle_again" if waits else None
    if verdict == "left_behind":
        return "left_behind"
    if not moment.visited:
        return "nobody_was_in"
    if verdict == "large_change":
        return "large_change"
    return _fire(moment, options)


def _unchanged(moment: Moment) -> Happening | None:
    """Nothing differs: was anybody here, and did they only pass?"""
    if moment.state == "asking" and moment.cause == "nothing_changed":
        return None
    if not moment.visited or moment.careful or moment.state != "settling":
        return "as_before"
    return "passed_by" if passed(moment.came, moment.went) else "nothing_changed"


def passed(came: tuple[str, ...], went: tuple[str, ...]) -> bool:
    """Whether somebody crossed the picture from one side to the other."""
    return ("left" in came and "right" in went and "right" not in came) or (
        "right" in came and "left" in went and "left" not in came
    )


def _fire(moment: Moment, options: Options) -> Happening:
    if options.only_ask or moment.careful:
        return "ask_it"
    return "count_it" if options.countdown_s > 0 else "take_it"


def press(moment: Moment, *, learnt: bool = True) -> Happening | None:
    """What a person's press means here; ``None``: nothing to press for.

    Where something is in the way a press takes no picture: it accepts what is there as the set.
    Held back before the set was ``learnt``, it goes on with the learning.
    """
    if moment.state == "blocked" or (moment.state == "held_back" and not learnt):
        return "accept"
    return "press" if moment.state in ("asking", "held_back") else None
