"""The thread that follows the live picture for the step-back trigger, and presses for it.

Everything it decides is decided in ``stepback/``; here are the thread, the lock and the telling.
Events: ``step_back`` on each change of state or cause, and at most four times a second while the
figures change, with the mask of what it sees (a PNG in base64, RFC 4648); ``counting`` for each
second of a countdown.
"""

import logging
import math
import threading
from base64 import b64encode
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from standclear.clock import Clock
from standclear.errors import Conflict, StandclearError
from standclear.shooting.eye import Eye, Eyes
from standclear.shooting.live import LiveFrame
from standclear.shooting.shutter import Press
from standclear.shooting.stepback import show
from standclear.shooting.stepback.machine import Options
from standclear.shooting.stepback.says import says
from standclear.shooting.stepback.watcher import Watcher

log = logging.getLogger(__name__)

BLIND_AFTER_S = 1.5
TELL_EVERY_S = 0.25


@dataclass(frozen=True, slots=True)
class Wish:
    """What is wished of the step-back trigger. ``eye``: the camera that watches (``None``: the one
    in use); ``mute``: the page plays no sounds for the states."""

    shot: str
    options: Options = field(default_factory=Options)
    eye: str | None = None
    mute: bool = False


class StepBack:
    """Runs from :meth:`begin` to :meth:`end`; both may be called again."""

    def __init__(
        self,
        *,
        clock: Clock,
        press: Callable[[Press], object],
        tell: Callable[[str, Mapping[str, Any]], object],
        eyes: Eyes,
        action_ended: Callable[[str], bool],
    ) -> None:
        self._clock = clock
        self._press = press
        self._tell = tell
        self._eyes = eyes
        self._action_ended = action_ended
        self._switching = threading.Lock()
        self._run: _Run | None = None

    def begin(self, wish: Wish) -> None:
        """Learn the set and watch. Raises :class:`NotOffered` without a live picture; then what
        ran before goes on."""
        with self._switching:
            eye = self._eyes.open(wish.eye)
            self._end()
            self._run = _Run(
                wish,
                eye,
                clock=self._clock,
                press=self._press,
                tell=self._tell,
                action_ended=self._action_ended,
            )
            self._run.start()

    def end(self) -> None:
        """Stop watching."""
        with self._switching:
            self._end()

    def _end(self) -> None:
        run, self._run = self._run, None
        if run is not None:
            run.stop()

    def hold_back(self) -> None:
        """Whatever is about to be taken is not."""
        self._running().hold_back()

    def press(self) -> None:
        """Go on: take what is asked about. Raises :class:`Conflict` when nothing is asked."""
        self._running().go_on()

    def kept(self, press_id: str) -> None:
        """A picture was kept; if it was not ours, it is the last kept one all the same."""
        run = self._run
        if run is not None:
            run.kept(press_id)

    def learn_again(self) -> None:
        """The camera was changed."""
        run = self._run
        if run is not None:
            run.learn_again()

    def state(self) -> dict[str, Any] | None:
        """How it stands, as JSON; ``None`` when it does not run."""
        run = self._run
        return run.shown() if run is not None else None

    def mask_png(self) -> bytes:
        """What it sees, as a small grey PNG. Raises :class:`Conflict` when it does not run."""
        return self._running().mask_png()

    def _running(self) -> "_Run":
        run = self._run
        if run is None:
            raise Conflict("The step-back trigger is not in use: choose it first.")
        return run


class _Run:
    """One watch, with its thread."""

    def __init__(
        self,
        wish: Wish,
        eye: Eye,
        *,
        clock: Clock,
        press: Callable[[Press], object],
        tell: Callable[[str, Mapping[str, Any]], object],
        action_ended: Callable[[str], bool],
    ) -> None:
        self._action_ended = action_ended
        self._wish = wish
        self._eye = eye
        self._clock = clock
        self._press = press
        self._tell = tell
        self._watcher = Watcher(wish.options)
        self._lock = threading.Lock()
        self._stopping = threading.Event()
        self._pressing: str | None = None
        self._problem = ""
        self._last_picture = clock.monotonic()
        self._told: tuple[Any, ...] = ()
        self._told_figures: Mapping[str, Any] = {}
        self._told_at = float("-inf")
        self._counted: int | None = None
        self._thread = threading.Thread(target=self._follow, name="step-back", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        self._stopping.set()
        if threading.current_thread() is not self._thread:
            self._thread.join(timeout=5)
        self._eye.close()

    # -- asked from other threads ------------------------------------------------------------

    def hold_back(self) -> None:
        with self._lock:
            if self._pressing is None:
                self._watcher.hold_back()
        self._tell_if_changed()

    def go_on(self) -> None:
        with self._lock:
            if not self._watcher.press():
                raise Conflict(
                    "There is nothing to press for: the step-back trigger "
                    "asks when it needs a press. Use the shutter to take a picture now."
                )
        self._tell_if_changed()

    def kept(self, press_id: str) -> None:
        with self._lock:
            if press_id != self._pressing:
                self._watcher.exposed()

    def learn_again(self) -> None:
        with self._lock:
            self._watcher.learn_again()
        self._tell_if_changed()

    def shown(self) -> dict[str, Any]:
        with self._lock:
            watcher, wish = self._watcher, self._wish
            moment, left = watcher.moment, watcher.left_s
            sentence = self._problem if moment.cause == "failed" else ""
            return {
                "state": moment.state,
                "cause": moment.cause,
                "says": sentence or says(moment.state, moment.cause),
                "figures": show.figures(watcher),
                "left_s": None if left is None else round(left, 2),
                "only_ask": wish.options.only_ask,
                "countdown_s": wish.options.countdown_s,
                "limit": wish.options.limit,
                "by_action": wish.options.by_action,
                "eye": self._eye.id,
                "mute": wish.mute,
            }

    def mask_png(self) -> bytes:
        with self._lock:
            seen = self._watcher.sense.seen
        return show.png(show.mask(seen))

    # -- the thread --------------------------------------------------------------------------

    def _follow(self) -> None:
        try:
            with self._eye.hub.watching():
                self._eye.poke()
                self._watch()
        except Exception:
            log.exception("The step-back trigger stopped")
            self._tell("step_back", {**self.shown(), "state": "blind", "cause": "failed"})

    def _watch(self) -> None:
        seq = 0
        while not self._stopping.is_set() and not self._eye.hub.closed:
            frame = self._eye.hub.newer_than(seq, 0.2)
            if frame is None or frame.source != "live":
                seq = frame.seq if frame is not None else seq
                self._nothing_came()
            else:
                seq = frame.seq
                self._see(frame)
            self._tell_if_changed()

    def _nothing_came(self) -> None:
        now = self._clock.monotonic()
        with self._lock:
            blind = self._watcher.moment.state == "blind"
            if now - self._last_picture > BLIND_AFTER_S and not blind:
                self._watcher.missing(now)

    def _see(self, frame: LiveFrame) -> None:
        self._last_picture = self._clock.monotonic()
        pixels = frame.pixels()
        with self._lock:
            wants = self._watcher.see(frame.picture.at, pixels).state == "take"
        if wants:
            self._expose()

    def _expose(self) -> None:
        """Press, unless it was held back in this very moment."""
        self._tell_if_changed()
        press = Press(shot=self._wish.shot)
        with self._lock:
            if self._watcher.moment.state != "take" or self._stopping.is_set():
                return
            self._pressing = press.id
        problem = self._pressed(press)
        ended = not problem and self._action_ended(press.shot)
        with self._lock:
            self._pressing, self._problem = None, problem
            if problem:
                self._watcher.failed()
            else:
                self._watcher.taken(ends_action=ended)

    def _pressed(self, press: Press) -> str:
        """Why no picture came of it; empty when one did."""
        try:
            self._press(press)
        except StandclearError as error:
            return error.detail
        except Exception:
            log.exception("The step-back trigger's press failed")
            return "The press failed inside the service; see its log."
        return ""

    # -- telling -----------------------------------------------------------------------------

    def _tell_if_changed(self) -> None:
        with self._lock:
            moment = self._watcher.moment
            now = self._clock.monotonic()
            told = (moment.state, moment.cause)
            due = now - self._told_at >= TELL_EVERY_S
            if told == self._told and not due:
                return
            new = told != self._told
            self._told, self._told_at = told, now
        shown = self.shown()
        if new or shown["figures"] != self._told_figures:
            self._told_figures = shown["figures"]
            mask = b64encode(self.mask_png()).decode("ascii")
            self._tell("step_back", {**shown, "mask": mask})
        self._tap(shown["left_s"])

    def _tap(self, left_s: float | None) -> None:
        """One light tap for each second of the countdown."""
        whole = None if left_s is None else math.ceil(left_s)
        if whole != self._counted:
            self._counted = whole
            if whole:
                self._tell("counting", {"left_s": whole})
