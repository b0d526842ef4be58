"""The re-seat guide: by the live picture that somebody watches, until it lies on the reference."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from standclear.cameras.rehearsal.camera import RehearsalCamera
from standclear.cameras.rehearsal.geometry import RigShift
from standclear.clock import SystemClock
from standclear.library.library import Library
from standclear.shooting.reseat import ALONE_S
from standclear.shooting.shutter import Press
from standclear.shooting.stage import Stage
from tests.api.conftest import House
from tests.waiting import until


class Hand:
    """A stage over the rehearsal set, and a hand that can push its camera."""

    def __init__(self, folder: Path) -> None:
        self.camera = RehearsalCamera.from_orders("seed=3")
        self.library = Library.open(folder, SystemClock())
        self.stage = Stage(
            library=self.library,
            clock=SystemClock(),
            make_camera=lambda _id: self.camera,
            camera="rehearsal",
        )
        until(lambda: self.stage.camera().state == "ready", 30)
        self.shot = self.library.create_shot("cork wakes").id
        self.stage.shutter.press(Press(shot=self.shot))

    def told(self) -> dict[str, Any]:
        """The guide's next word on a live picture taken from now on."""
        number, _ = self.stage.events.resume(None)
        skip = 2  # one measurement may be of a picture from before

        def found() -> dict[str, Any] | None:
            events = [e for e in self.stage.events.after(number, 1) if e.kind == "reseat"]
            return dict(events[skip].data) if len(events) > skip else None

        return until(found, 20) or {}


@pytest.fixture
def hand(tmp_path: Path) -> Iterator[Hand]:
    made = Hand(tmp_path / "library")
    yield made
    made.stage.farewell(10)
    made.library.close()


def test_the_guide_leads_a_bumped_camera_back(hand: Hand) -> None:
    hand.stage.look()
    with hand.stage.live.watching():
        hand.stage.reseat.start(hand.shot)
        assert hand.told()["within"]
        hand.camera.nudge(RigShift(2.4, -1.5, 0.1))
        off = hand.told()
        assert not off["within"]
        assert off["shift_x_px"] == pytest.approx(2.4, abs=0.15)
        assert off["shift_y_px"] == pytest.approx(-1.5, abs=0.15)
        assert off["turn_deg"] == pytest.approx(0.1, abs=0.01)
        assert "an right by" in off["says"]
        shift = RigShift(-off["shift_x_px"], -off["shift_y_px"], -off["turn_deg"])
        hand.camera.nudge(shift)  # a hand that does what it is told
        assert hand.told()["within"]
        assert hand.stage.reseat.stop()["on"] is False


def test_the_guide_needs_an_exposure_and_a_shot(house: House) -> None:
    shot = house.shot()["id"]
    house.problem("PUT", "/camera/reseat", 409, "no_reference", json={"on": True, "shot": shot})
    house.problem("PUT", "/camera/reseat", 422, "invalid", json={"on": True})
    house.problem("PUT", "/camera/reseat", 404, "not_found", json={"on": True, "shot": "none"})
    assert house.ok("GET", "/camera/reseat")["on"] is False


def test_the_guide_ends_when_nobody_looks(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    assert ALONE_S == 10
    monkeypatch.setattr("standclear.shooting.reseat.ALONE_S", 0.3)
    shot = house.shot()["id"]
    house.press(shot)
    assert house.ok("PUT", "/camera/reseat", json={"on": True, "shot": shot})["on"] is True
    until(lambda: house.ok("GET", "/camera/reseat")["on"] is False, 10)
    assert "Nobody" in house.ok("GET", "/camera/reseat")["says"]
