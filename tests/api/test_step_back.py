"""`/trigger` in the mode step_back: a hand comes, moves something, goes; the shutter goes."""

import threading
import time
from base64 import b64decode
from collections.abc import Iterator

import cv2
import numpy as np
import pytest

from standclear.cameras.base import LivePicture
from tests.api.conftest import House
from tests.toys import ToyCamera
from tests.waiting import until


class TableCamera(ToyCamera):
    """A toy with a small set before it: a block that can be moved, and a hand from the right."""

    def __init__(self, *, live: bool = True) -> None:
        super().__init__(live=live)
        self.place = 120
        self.reach = 0  # px from the right edge
        self.bump = 0
        rng = np.random.default_rng(5)
        grain = cv2.GaussianBlur(rng.normal(0, 60, (220, 360, 3)).astype(np.float32), (0, 0), 2)
        self._table = np.clip(grain + 120, 0, 255).astype(np.uint8)
        self._rng = rng

    def live(self) -> LivePicture:
        self.alive()
        threading.Event().wait(1 / 60)
        picture = self._table.copy()
        cv2.rectangle(picture, (self.place, 90), (self.place + 30, 140), (40, 60, 200), -1)
        if self.reach:
            cv2.rectangle(picture, (340 - self.reach, 100), (360, 130), (120, 160, 220), -1)
        picture = picture[20:200, 20 + self.bump : 340 + self.bump]
        noise = self._rng.integers(0, 3, picture.shape, np.uint8)
        return LivePicture(at=time.monotonic(), pixels=cv2.add(picture, noise))


class Table(House):
    """The house over a table, with what an animator does there."""

    camera: TableCamera

    def watch(self, **more: object) -> str:
        """A shot that the trigger watches for; waits until the set is learnt."""
        shot = str(self.shot()["id"])
        self.ok("PUT", "/trigger", json={"mode": "step_back", "shot": shot, **more})
        self.comes("watching")
        return shot

    def comes(self, state: str, cause: str | None = None) -> None:
        """Wait until the trigger is in that state, for that cause."""

        def there() -> bool:
            now = self.ok("GET", "/trigger")
            return now["state"] == state and cause in (None, now["cause"])

        until(there, 20, f"for {state} {cause}: {self.ok('GET', '/trigger')}")

    def reach_in(self) -> None:
        self.camera.reach = 150
        self.comes("hands_in")

    def move(self, step: int = 6) -> None:
        """Hand in, object moved, hand out."""
        self.reach_in()
        self.camera.place += step
        self.camera.reach = 0

    def count(self, shot: str) -> int:
        return int(self.ok("GET", f"/shots/{shot}")["exposure_count"])


@pytest.fixture
def cameras() -> dict[str, ToyCamera]:
    return {"toy": TableCamera()}


@pytest.fixture
def table(house: House) -> Iterator[Table]:
    yield Table(**vars(house))
    house.stage.trigger.stop()
    assert not any(thread.name == "step-back" for thread in threading.enumerate())


class TestWithoutLivePicture:
    """A camera without live picture, and a webcam beside it."""

    @pytest.fixture
    def cameras(self) -> dict[str, ToyCamera]:
        return {"toy": TableCamera(live=False), "eye": TableCamera()}

    def test_it_offers_the_self_timer(self, table: Table) -> None:
        shot = table.shot()["id"]
        body = table.problem(
            "PUT", "/trigger", 422, "not_offered", json={"mode": "step_back", "shot": shot}
        )
        assert "self-timer" in body["detail"]
        assert table.ok("GET", "/trigger")["mode"] == "manual"

    def test_a_webcam_beside_it_can_be_the_eye(
        self, table: Table, cameras: dict[str, TableCamera]
    ) -> None:
        shot, eye = table.shot()["id"], cameras["eye"]
        table.ok("PUT", "/trigger", json={"mode": "step_back", "shot": shot, "eye": "eye"})
        table.comes("watching")
        eye.reach = 150
        table.comes("hands_in")
        eye.place += 6
        eye.reach = 0
        until(lambda: table.count(shot) == 1, 20)
        assert eye.sent == [], "the eye only looks"
        assert len(table.camera.sent) == 1


def test_each_new_pose_takes_itself_and_lands_in_the_shot(table: Table) -> None:
    shot = table.watch()
    before, _ = table.stage.events.resume(None)
    for number in (1, 2):
        table.move()
        until(lambda number=number: table.count(shot) == number, 20)
        table.comes("watching")
    told = table.stage.events.after(before, 0)
    states = [event.data["state"] for event in told if event.kind == "step_back"]
    order = [state for at, state in enumerate(states) if at == 0 or states[at - 1] != state]
    takes = [at for at, state in enumerate(order) if state == "take"]
    assert len(takes) == 2
    assert "hands_in" in order[: takes[0]]
    for at in takes:
        assert (order[at - 1], order[at + 1]) == ("settling", "rest")
    assert sum(event.kind == "kept" for event in told) == 2
    shown = table.ok("GET", "/trigger")
    assert (shown["mode"], shown["shot"], shown["phase"]) == ("step_back", shot, "idle")
    assert shown["figures"]["noise_codes"] > 0


def test_a_resting_hand_is_seen_and_never_taken(table: Table) -> None:
    shot = table.watch()
    table.reach_in()
    table.camera.place += 6
    table.comes("hands_in", "hand_resting")
    mask = table.client.get("/api/v1/trigger/mask.png")
    assert mask.mimetype == "image/png"
    values = cv2.imdecode(np.frombuffer(mask.data, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert values.max() == 255
    assert values[:, -1].max() == 255, "the hand comes in from the right"
    told = [one.data["mask"] for one in table.stage.events.after(0, 0) if one.kind == "step_back"]
    streamed = cv2.imdecode(np.frombuffer(b64decode(told[-1]), np.uint8), cv2.IMREAD_GRAYSCALE)
    assert streamed[:, -1].max() == 255, "the same in the event stream"
    assert len(told[-1]) < 4000, "small enough for every phone, four times a second"
    assert table.count(shot) == 0
    table.camera.reach = 0
    until(lambda: table.count(shot) == 1, 20)


def test_nothing_changed_asks_and_a_press_takes(table: Table) -> None:
    shot = table.watch()
    table.move(0)
    table.comes("asking", "nothing_changed")
    assert table.count(shot) == 0
    table.ok("POST", "/trigger/press")
    until(lambda: table.count(shot) == 1, 20)


def test_only_ask_waits_for_the_press(table: Table) -> None:
    shot = table.watch(only_ask=True)
    table.move()
    table.comes("asking", "ready")
    assert table.count(shot) == 0
    table.ok("POST", "/trigger/press")
    until(lambda: table.count(shot) == 1, 20)


def test_held_back_until_the_next_visit(table: Table) -> None:
    shot = table.watch(countdown_s=1.5)
    table.move()
    table.comes("counting")
    assert table.ok("GET", "/trigger")["left_s"] > 0
    assert table.ok("POST", "/trigger/hold_back")["state"] == "held_back"
    threading.Event().wait(1.8)  # longer than the countdown: nothing may come
    assert table.count(shot) == 0
    table.move()
    table.comes("counting")
    until(lambda: table.count(shot) == 1, 20)
    taps = [
        event.data["left_s"] for event in table.stage.events.after(0, 0) if event.kind == "counting"
    ]
    assert taps[-2:] == [2, 1]


def test_a_hand_that_comes_back_cancels_the_countdown(table: Table) -> None:
    shot = table.watch(countdown_s=1.0)
    table.move()
    table.comes("counting")
    table.reach_in()
    threading.Event().wait(1.2)  # longer than the countdown: nothing may come
    assert table.count(shot) == 0


def test_a_bump_is_said_and_not_taken(table: Table) -> None:
    shot = table.watch()
    table.camera.bump = 3
    table.comes("blocked", "bumped")
    assert table.ok("GET", "/trigger")["figures"]["shift_px"] == pytest.approx(3, abs=0.3)
    table.ok("POST", "/trigger/press")
    table.comes("watching")
    assert table.count(shot) == 0


def test_a_picture_pressed_by_hand_is_the_last_kept_one(table: Table) -> None:
    shot = table.watch()
    table.camera.place += 6
    table.comes("asking", "no_hand_seen")
    table.press(shot)
    table.comes("watching")
    table.move(0)
    table.comes("asking", "nothing_changed")
    assert table.count(shot) == 1


def test_it_holds_back_after_as_many_pictures_as_it_was_given(table: Table) -> None:
    shot = table.watch(limit=1)
    table.move()
    table.comes("held_back", "action_done")
    assert table.count(shot) == 1


def test_it_stops_at_the_end_of_an_action_and_a_press_goes_on(table: Table) -> None:
    shot = table.watch()
    actions = [
        {"label": name, "duration": {"value": count, "unit": "frames"}}
        for name, count in (("peek", 1), ("creep", 5))
    ]
    table.ok("PUT", f"/shots/{shot}/plan", json={"actions": actions})
    table.move()
    table.comes("held_back", "action_done")
    table.camera.reach = 150
    threading.Event().wait(0.3)  # some pictures with the hand in: it must not go on by itself
    assert table.ok("GET", "/trigger")["state"] == "held_back"
    table.camera.reach = 0
    until(lambda: table.ok("GET", "/trigger")["figures"]["edges"] == [], 20, "for the hand to go")
    table.ok("POST", "/trigger/press")
    table.comes("watching")
    table.move()
    until(lambda: table.count(shot) == 2, 20)


def test_a_cable_pulled_out_is_said_and_nothing_is_fired_afterwards(table: Table) -> None:
    shot = table.watch()
    table.camera.plugged = False
    table.comes("blind", "no_picture")
    table.camera.plugged = True
    table.comes("watching")
    assert table.count(shot) == 0


def test_another_mode_ends_the_watching(table: Table) -> None:
    shot = table.watch()
    table.ok("PUT", "/trigger", json={"mode": "manual"})
    assert not table.stage.live.watched
    assert "state" not in {k for k, v in table.ok("GET", "/trigger").items() if v is not None}
    table.problem("GET", "/trigger/mask.png", 409, "conflict")
    table.camera.reach, table.camera.place = 0, 200
    assert table.count(shot) == 0


def test_a_press_when_nothing_is_asked_is_refused(table: Table) -> None:
    table.watch()
    table.problem("POST", "/trigger/press", 409, "conflict")


def test_it_needs_a_shot(table: Table) -> None:
    table.problem("PUT", "/trigger", 422, "invalid", json={"mode": "step_back"})
    table.problem(
        "PUT", "/trigger", 404, "not_found", json={"mode": "step_back", "shot": "nowhere"}
    )
