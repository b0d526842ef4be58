"""What fires the shutter when no finger does: self-timer, interval, step-back trigger.

The rules are a table, (phase, happening) → phase, walked by :func:`step`; the thread below only
keeps time and presses. Every change is told, and each full second of a countdown.

    idle ──start──▶ counting ──due──▶ exposing ──done──▶ idle      (self-timer)
                       ▲                  │
                       └──────done────────┘                         (interval)
    any ──cancel──▶ idle

In the mode ``step_back`` this machine rests and ``stepback_runner.py`` watches the set instead.
"""

import logging
import math
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

from standclear.clock import Clock
from standclear.errors import Conflict, Invalid, StandclearError
from standclear.shooting.shutter import Press
from standclear.shooting.stepback_runner import StepBack, Wish

log = logging.getLogger(__name__)

Mode = Literal["manual", "self_timer", "interval", "step_back"]
Phase = Literal["idle", "counting", "exposing"]
Happening = Literal["start", "due", "done", "cancel"]

MODES: tuple[Mode, ...] = ("manual", "self_timer", "interval", "step_back")
SECONDS = (0.5, 3600.0)

_TABLE: Mapping[tuple[Mode, Phase, Happening], Phase] = {
    ("self_timer", "idle", "start"): "counting",
    ("self_timer", "counting", "start"): "counting",
    ("self_timer", "counting", "due"): "exposing",
    ("self_timer", "exposing", "done"): "idle",
    ("interval", "idle", "start"): "counting",
    ("interval", "counting", "start"): "counting",
    ("interval", "counting", "due"): "exposing",
    ("interval", "exposing", "done"): "counting",
}


def step(mode: Mode, phase: Phase, happening: Happening) -> Phase:
    """The next phase. What the table does not name changes nothing; ``cancel`` always idles."""
    if happening == "cancel":
        return "idle"
    return _TABLE.get((mode, phase, happening), phase)


@dataclass(frozen=True, slots=True)
class TriggerState:
    """The trigger as it stands. ``left_s`` is given while counting; ``step_back`` is what that
    trigger shows of itself, in its mode."""

    mode: Mode = "manual"
    shot: str | None = None
    seconds: float = 2.0
    phase: Phase = "idle"
    left_s: float | None = None
    says: str = ""
    step_back: Mapping[str, Any] | None = None


class Trigger:
    """Keeps time and presses. ``tell`` gets (event kind, data); ``step_back`` watches the set."""

    def __init__(
        self,
        *,
        clock: Clock,
        press: Callable[[Press], object],
        tell: Callable[[str, Mapping[str, Any]], object],
        step_back: StepBack | None = None,
    ) -> None:
        self._clock = clock
        self._press = press
        self._tell = tell
        self._step_back = step_back
        self._condition = threading.Condition()
        self._state = TriggerState()
        self._due: float | None = None
        self._stopping = False
        self._thread = threading.Thread(target=self._run, name="trigger", daemon=True)
        self._thread.start()

    def state(self) -> TriggerState:
        """The trigger as it stands now."""
        with self._condition:
            state = self._with_time_left(self._state)
        if state.mode != "step_back" or self._step_back is None:
            return state
        return _watching(state, self._step_back.state())

    def set(self, mode: Mode, shot: str | None, seconds: float, *, start: bool) -> TriggerState:
        """Choose the mode; a countdown in progress is cancelled, a new one begun if asked."""
        if mode == "step_back":
            if shot is None:
                raise Invalid("Name the shot that the pictures are to go to.")
            return self.watch(Wish(shot))
        if not math.isfinite(seconds) or not SECONDS[0] <= seconds <= SECONDS[1]:
            raise Invalid(f"seconds must lie between {SECONDS[0]:g} and {SECONDS[1]:g}.")
        if mode != "manual" and shot is None:
            raise Invalid("Name the shot that the pictures are to go to.")
        if self._step_back is not None:
            self._step_back.end()
        with self._condition:
            self._state = TriggerState(mode=mode, shot=shot, seconds=seconds)
            self._due = None
            self._condition.notify_all()
        if start and mode != "manual":
            return self.start()
        return self._announce()

    def watch(self, wish: Wish) -> TriggerState:
        """Hand over to the step-back trigger. Raises :class:`NotOffered` without a live picture;
        then the mode stays what it was."""
        if self._step_back is None:
            raise Conflict("There is no step-back trigger here.")
        self._step_back.begin(wish)
        with self._condition:
            self._state = TriggerState(mode="step_back", shot=wish.shot)
            self._due = None
            self._condition.notify_all()
        return self._announce()

    def start(self) -> TriggerState:
        """Begin the countdown (again); for the step-back trigger: go on with what it asks."""
        if self._watches is not None:
            self._watches.press()
            return self._announce()
        with self._condition:
            if self._state.mode == "manual":
                raise Conflict("The trigger is on manual: press the shutter instead.")
            self._go("start")
        return self._announce()

    def cancel(self, says: str = "") -> TriggerState:
        """Stop counting, or hold the step-back trigger back; nothing is taken. A picture already
        being taken is finished."""
        if self._watches is not None:
            self._watches.hold_back()
            return self._announce()
        with self._condition:
            self._go("cancel")
            self._state = replace(self._state, says=says)
        return self._announce()

    def mask_png(self) -> bytes:
        """What the step-back trigger sees. Raises :class:`Conflict` in another mode."""
        if self._watches is None:
            raise Conflict("The step-back trigger is not in use: choose it first.")
        return self._watches.mask_png()

    def stop(self) -> None:
        """End the threads."""
        with self._condition:
            self._stopping = True
            self._condition.notify_all()
        if self._step_back is not None:
            self._step_back.end()
        self._thread.join(timeout=5)

    # -- inside ------------------------------------------------------------------------------

    @property
    def _watches(self) -> StepBack | None:
        """The step-back trigger, when it is the one in use."""
        with self._condition:
            return self._step_back if self._state.mode == "step_back" else None

    def _go(self, happening: Happening) -> None:
        phase = step(self._state.mode, self._state.phase, happening)
        self._state = replace(self._state, phase=phase, says="")
        counting = phase == "counting"
        self._due = self._clock.monotonic() + self._state.seconds if counting else None
        self._condition.notify_all()

    def _with_time_left(self, state: TriggerState) -> TriggerState:
        if self._due is None:
            return replace(state, left_s=None)
        return replace(state, left_s=max(0.0, round(self._due - self._clock.monotonic(), 2)))

    def _announce(self) -> TriggerState:
        state = self.state()
        self._tell("trigger", as_json(state))
        return state

    def _run(self) -> None:
        while True:
            press = self._wait_until_due()
            if press is None:
                return
            self._announce()
            says = ""
            try:
                self._press(press)
            except StandclearError as error:
                says = error.detail
            except Exception:
                log.exception("The trigger's press failed")
                says = "The press failed inside the service; see its log."
            self._finish(says)

    def _wait_until_due(self) -> Press | None:
        """Count down, telling each second; the press to make, or None when stopping."""
        while True:
            with self._condition:
                if self._stopping:
                    return None
                due = self._due
                left = None if due is None else due - self._clock.monotonic()
                if left is not None and left <= 0 and self._state.shot is not None:
                    self._go("due")
                    return Press(shot=self._state.shot)
                if left is None:
                    self._condition.wait()
                    continue
            self._count(left, due)

    def _count(self, left: float, due: float | None) -> None:
        """Tell the full second that begins now, then wait for the next one."""
        whole = math.ceil(left)
        self._tell("counting", {"left_s": whole})
        with self._condition:
            next_second = left - (whole - 1)
            self._condition.wait_for(
                lambda: self._stopping or self._due != due, timeout=min(left, next_second)
            )

    def _finish(self, says: str) -> None:
        with self._condition:
            if self._state.phase == "exposing":
                self._go("done")
                self._state = replace(self._state, says=says)
        self._announce()


def _watching(state: TriggerState, shown: Mapping[str, Any] | None) -> TriggerState:
    """The step-back trigger's own state in the words of all modes."""
    if shown is None:
        return state
    phases: Mapping[str, Phase] = {"take": "exposing", "counting": "counting"}
    return replace(
        state,
        phase=phases.get(shown["state"], "idle"),
        left_s=shown["left_s"],
        says=shown["says"],
        step_back=shown,
    )


def as_json(state: TriggerState) -> dict[str, Any]:
    """The trigger as the API and the event stream show it."""
    shown = dict(state.step_back) if state.step_back is not None else {}
    return {
        "mode": state.mode,
        "shot": state.shot,
        "seconds": state.seconds,
        "phase": state.phase,
        **shown,
        "left_s": state.left_s,
        "says": state.says,
    }
