"""Self-timer and interval: the table, the countdown, and that cancel means no picture."""

import itertools
import threading
from typing import Any

import pytest

from standclear.cameras.base import CameraAway
from standclear.clock import SystemClock
from standclear.errors import Conflict, Invalid
from standclear.shooting.shutter import Press
from standclear.shooting.trigger import MODES, Trigger, step
from tests.waiting import until


class Bench:
    """A trigger, what it pressed and what it told."""

    def __init__(self) -> None:
        self.pressed: list[Press] = []
        self.told: list[tuple[str, Any]] = []
        self.fail = False
        self.trigger = Trigger(
            clock=SystemClock(),
            press=self.press,
            tell=lambda kind, data: self.told.append((kind, data)),
        )

    def press(self, press: Press) -> None:
        if self.fail:
            raise CameraAway("The cable is out.")
        self.pressed.append(press)


@pytest.fixture
def bench() -> Any:
    bench = Bench()
    yield bench
    bench.trigger.stop()
    assert not any(thread.name == "trigger" for thread in threading.enumerate())


def test_the_table_never_exposes_without_a_countdown() -> None:
    phases = ("idle", "counting", "exposing")
    happenings = ("start", "due", "done", "cancel")
    for mode, phase, happening in itertools.product(MODES, phases, happenings):
        after = step(mode, phase, happening)  # type: ignore[arg-type]
        if after == "exposing" and phase != "exposing":
            assert (phase, happening) == ("counting", "due")
            assert mode != "manual"


def test_the_self_timer_counts_each_second_and_presses_once(bench: Bench) -> None:
    bench.trigger.set("self_timer", "s1", 1.5, start=True)
    until(lambda: bench.pressed)
    assert [press.shot for press in bench.pressed] == ["s1"]
    assert [data["left_s"] for kind, data in bench.told if kind == "counting"] == [2, 1]
    until(lambda: bench.trigger.state().phase == "idle")
    assert len(bench.pressed) == 1


def test_the_interval_goes_on_until_cancelled(bench: Bench) -> None:
    bench.trigger.set("interval", "s1", 0.5, start=True)
    until(lambda: len(bench.pressed) >= 3)
    bench.trigger.cancel()
    taken = len(bench.pressed)
    assert bench.trigger.state().phase == "idle"
    threading.Event().wait(0.7)  # longer than the interval: nothing may come
    assert len(bench.pressed) == taken


def test_cancel_during_the_countdown_takes_nothing(bench: Bench) -> None:
    bench.trigger.set("self_timer", "s1", 0.6, start=True)
    bench.trigger.cancel()
    threading.Event().wait(0.8)  # longer than the countdown: nothing may come
    assert bench.pressed == []


def test_choosing_without_start_does_not_count(bench: Bench) -> None:
    state = bench.trigger.set("self_timer", "s1", 2, start=False)
    assert (state.phase, state.left_s) == ("idle", None)
    assert bench.trigger.start().phase == "counting"


def test_a_failed_press_is_said(bench: Bench) -> None:
    bench.fail = True
    bench.trigger.set("self_timer", "s1", 0.5, start=True)
    until(lambda: bench.trigger.state().says == "The cable is out.")


@pytest.mark.parametrize("seconds", [0, -1, float("nan"), float("inf"), 1e9])
def test_absurd_seconds_are_refused(bench: Bench, seconds: float) -> None:
    with pytest.raises(Invalid):
        bench.trigger.set("self_timer", "s1", seconds, start=True)


def test_manual_cannot_be_started_and_others_need_a_shot(bench: Bench) -> None:
    with pytest.raises(Conflict):
        bench.trigger.start()
    with pytest.raises(Invalid):
        bench.trigger.set("interval", None, 2, start=True)
