"""The thread that makes the second copy beside the shooting: it follows the events and, when the
shutter rests, lets ``library/mirror/`` do one thing after the other.

It holds no picture and no queue: a slow or dead place costs the shutter nothing, and a process that
ends forgets nothing.
"""

import logging
import threading
import traceback
from collections.abc import Callable

from standclear.clock import Clock
from standclear.errors import StandclearError
from standclear.library.mirror.mirror import Mirror, MirrorState
from standclear.shooting import describe
from standclear.shooting.events import EventHub

log = logging.getLogger(__name__)

#: Events after which there may be something to copy.
NEWS = frozenset({"kept", "late", "edited", "plan", "shot", "verdict", "sound"})
#: Without news the place is looked at so often, so that its going away is noticed.
POLL_S = 5.0
LEAVE_S = 3.0


class Mirroring:
    """Runs a :class:`Mirror` from :meth:`start` to :meth:`stop`."""

    def __init__(
        self,
        mirror: Mirror,
        clock: Clock,
        events: EventHub,
        wait_quiet: Callable[[], object],
    ) -> None:
        """``wait_quiet`` returns when the shutter rests: copying must not slow a press."""
        self._mirror = mirror
        self._clock = clock
        self._events = events
        self._wait_quiet = wait_quiet
        self._stopping = threading.Event()
        self._asked = threading.Event()
        self._told: tuple[object, ...] = ()
        self._thread = threading.Thread(target=self._run, name="second copy", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """End soon; what a place that does not answer keeps waiting is left to the next start."""
        self._stopping.set()
        self._asked.set()
        self._publish(self._mirror.state())  # wakes the thread
        self._thread.join(LEAVE_S)

    def state(self) -> MirrorState:
        """How the second copy stands."""
        return self._mirror.state()

    def change(self, *, paused: bool | None, begin: bool) -> MirrorState:
        """Pause or go on; begin a new copy at the address; in any case try again at once."""
        if begin:
            self._mirror.begin_anew()
        if paused is not None:
            self._mirror.pause(paused)
        self._mirror.retry()
        self._asked.set()
        state = self._mirror.state()
        self._publish(state)
        return state

    def _publish(self, state: MirrorState) -> None:
        self._events.publish("mirror", describe.mirror(state))

    # -- the thread --------------------------------------------------------------------------

    def _run(self) -> None:
        seen, _ = self._events.resume(None)
        while not self._stopping.is_set():
            self._wait_quiet()
            pause = self._work()
            self._tell_changes()
            if pause != 0:
                seen = self._until_news(seen, POLL_S if pause is None else min(pause, POLL_S))
        self._mirror.finish()

    def _work(self) -> float | None:
        try:
            return self._mirror.work()
        except Exception as error:
            # Whatever a library for some protocol did, the copy must go on when it can. Its words
            # are not logged: they may hold a secret.
            place = traceback.extract_tb(error.__traceback__)[-1]
            kind = type(error).__name__
            log.error("copying failed: %s in %s:%s", kind, place.filename, place.lineno)  # noqa: TRY400
            return self._mirror.unforeseen()

    def _tell_changes(self) -> None:
        try:
            state = self._mirror.state()
        except StandclearError as error:
            log.info("the second copy's state is not known: %s", error.detail)
            return
        known = (state.state, state.says, state.waiting_exposures, state.copied_exposures)
        if known != self._told:
            self._told = known
            self._publish(state)

    def _until_news(self, seen: int, at_most_s: float) -> int:
        """Wait for an event that concerns the copy, for a word from outside, or for the time."""
        end = self._clock.monotonic() + at_most_s
        while (left := end - self._clock.monotonic()) > 0 and not self._asked.is_set():
            events = self._events.after(seen, left)
            if events:
                seen = events[-1].number
                if any(event.kind in NEWS for event in events):
                    break
            elif self._events.closed:
                self._stopping.wait(left)
        self._asked.clear()
        return seen
