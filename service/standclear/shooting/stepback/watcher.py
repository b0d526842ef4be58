"""The step-back trigger in one piece, still without thread or camera.

:meth:`Watcher.see` takes live pictures with their times; when ``moment.state`` becomes ``take`` the
caller exposes and says how it went. Everything else (a press, a touch that holds back, an exposure
made by somebody else) is told to it in the same way.
"""

import math
from collections.abc import Mapping

from standclear.imaging.hands import Glance
from standclear.imaging.hands_frame import Picture
from standclear.shooting.stepback import judge, machine
from standclear.shooting.stepback.judge import Memory
from standclear.shooting.stepback.machine import Moment, Options
from standclear.shooting.stepback.sense import Sense
from standclear.shooting.stepback.states import Happening, State

SETTLE_S = 0.33
SETTLE_PICTURES = 4
REST_S = 0.25

#: How long the set must be still before it is studied in a state, and how soon again. A study
#: costs ten glances: what can only change by moving is not studied often.
STUDIES: Mapping[State, tuple[float, float]] = {
    "settling": (SETTLE_S, 0.5),
    "hands_in": (1.0, 3.0),
    "asking": (1.0, 1.5),
    "blocked": (1.0, 1.5),
}


class Watcher:
    """Walks the machine through the pictures. Not for two threads at once."""

    def __init__(self, options: Options | None = None) -> None:
        self.options = options or Options()
        self.moment = Moment()
        self.sense = Sense()
        self.memory = Memory()
        self.shift_px = 0.0
        self.at = 0.0
        self._due = 0.0
        self._studied_at = -math.inf
        self._pending: Memory | None = None
        self._action_ended = False

    @property
    def left_s(self) -> float | None:
        """Seconds until it fires, while it counts."""
        return max(0.0, self._due - self.at) if self.moment.state == "counting" else None

    # -- pictures ----------------------------------------------------------------------------

    def see(self, at: float, pixels: Picture) -> Moment:
        """Take in one live picture; ``at`` in seconds on any clock that does not go back."""
        self.at = at
        known = self.sense.learnt
        seen = self.sense.look(at, pixels)
        if seen is None:
            if self.moment.state != "learning" and not known:
                self._happens("restless")
            return self._while_learning()
        if self.moment.state != "take":
            self._glanced(seen)
            self._study_if_due()
            self._time_passes()
        return self.moment

    def missing(self, at: float) -> Moment:
        """No picture has come for a while."""
        self.at = at
        return self._happens("blind")

    def _while_learning(self) -> Moment:
        if self.sense.learnt:
            return self._happens("learnt")
        return self._happens("restless") if self.sense.restless else self.moment

    def _glanced(self, seen: Glance) -> None:
        noise = self.sense.noise
        if noise is None:
            return
        sight: Happening = judge.sight(seen, noise, self.sense.gain)
        watching = self.moment.state == "watching"
        if sight == "still" and watching and seen.apart.hard_area >= judge.LEAST_CHANGE:
            sight = "stirring"
        if sight in ("hands", "touching") and self.moment.state == "rest" and self._limit_reached():
            sight = "limit"  # quick hands do not go on with what is complete
        self._happens(sight, seen.apart.edges)

    def _study_if_due(self) -> None:
        """A study when the set has been still long enough for the state it is in."""
        still_s = self.at - self.sense.still_since
        wait, again = STUDIES.get(self.moment.state, (math.inf, 0.0))
        moved_since = self.sense.still_since > self._studied_at
        due = moved_since or self.at >= self._studied_at + again
        if still_s < wait or not due:
            return
        if self.sense.still_pictures < SETTLE_PICTURES:
            return
        self._study(still_s)

    def _study(self, still_s: float) -> None:
        found, noise = self.sense.study(), self.sense.noise
        if found is None or noise is None:
            return
        first = self.moment.taken == 0
        verdict = judge.verdict(found, noise, self.sense.gain, self.memory, first=first)
        self.shift_px = found.shift.far_px if verdict == "bumped" else 0.0
        self._pending = judge.remember(self.memory, found)
        self._studied_at = self.at
        happening = machine.mean(verdict, self.moment, self.options, waited_s=still_s)
        if happening is not None:
            self._happens(happening)

    def _time_passes(self) -> None:
        state = self.moment.state
        if state == "counting" and self.at >= self._due:
            self._happens("counted")
        elif state == "rest" and self._rested() and self.sense.keep():
            self._happens("limit" if self._limit_reached() else "rested")

    def _rested(self) -> bool:
        """Whether the set has been at rest since the exposure, for long enough."""
        enough = self.sense.still_pictures >= SETTLE_PICTURES
        return enough and self.at - self.sense.still_since >= REST_S

    def _limit_reached(self) -> bool:
        limit = self.options.limit
        enough = limit is not None and self.moment.counted >= limit
        return enough or (self._action_ended and self.options.by_action)

    # -- people and camera -------------------------------------------------------------------

    def hold_back(self) -> Moment:
        """Whatever it was about to do, it does not."""
        return self._happens("hold_back")

    def press(self) -> bool:
        """A person says go on; False when there is nothing to go on with."""
        happening = machine.press(self.moment, learnt=self.sense.learnt)
        if happening is None:
            return False
        self._happens(happening)
        return True

    def taken(self, *, ends_action: bool = False) -> Moment:
        """The picture it wished for is kept; ``ends_action``: it completes one of the plan's."""
        self._action_ended = ends_action
        self.memory = self._pending or self.memory
        self.sense.keep()
        return self._happens("taken")

    def failed(self) -> Moment:
        """The picture it wished for was not taken."""
        return self._happens("failed")

    def exposed(self) -> Moment:
        """Somebody else's press took a picture: that is now the last kept one."""
        return self._happens("exposed")

    def learn_again(self) -> Moment:
        """Another camera, or another set: begin anew."""
        self.sense.forget()
        self.memory = Memory()
        self.moment = Moment(taken=self.moment.taken)
        return self.moment

    def _happens(self, happening: Happening, edges: tuple[str, ...] = ()) -> Moment:
        before = self.moment
        self.moment = machine.step(before, happening, edges)
        entered = self.moment.state != before.state
        if entered and self.moment.state == "counting":
            self._due = self.at + self.options.countdown_s
        if entered and self.moment.state == "learning":
            self.sense.forget()
        if entered and self.moment.state == "settling":
            self._studied_at = -math.inf
        return self.moment
