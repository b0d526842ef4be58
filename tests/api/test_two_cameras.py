"""Two cameras on one shot: both pictures or none, one exposure, how far apart told."""

import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from standclear.cameras.base import CaptureFailed, Identity, Taken
from standclear.errors import StandclearError
from standclear.shooting.pair import _Start
from standclear.shooting.shutter import Press
from tests.api.conftest import House
from tests.service import ServiceProcess
from tests.toys import ToyCamera
from tests.waiting import until

SIDE = {"id": "side"}
TOGETHER_S = 0.05  # on a busy machine; alone it is a tenth of a millisecond


class Timed(ToyCamera):
    """A toy of another name that notes when its shutter went."""

    def __init__(self, name: str = "side") -> None:
        super().__init__()
        self.name = name
        self.went: list[float] = []
        self.unreadable = False

    @property
    def identity(self) -> Identity:
        return Identity(self.name, "toy", f"Toy at the {self.name}")

    def capture(self) -> Taken:
        self.went.append(time.monotonic())
        taken = super().capture()
        if self.unreadable:
            return replace(taken, originals=(replace(taken.originals[0], data=b"no picture"),))
        return taken


@pytest.fixture
def cameras() -> dict[str, ToyCamera]:
    return {"toy": Timed("front"), "side": Timed("side")}


@pytest.fixture
def side(house: House, cameras: dict[str, ToyCamera]) -> Iterator[Timed]:
    """The second camera, taken up."""
    assert house.ok("PUT", "/camera/second", json=SIDE)["second"]["label"] == "Toy at the side"
    until(lambda: house.ok("GET", "/camera")["second"]["state"] == "ready")
    made = cameras["side"]
    assert isinstance(made, Timed)
    made.sent.append(b"of another day")  # so that its pictures are not the first one's
    yield made
    made.answer.set()


def read(house: House, url: str) -> bytes:
    """A file from the interface."""
    with house.client.get(url) as answer:
        return answer.data


def test_one_press_keeps_both_pictures_as_one_exposure(house: House, side: Timed) -> None:
    shot = house.shot()["id"]
    [one] = house.press(shot)
    assert [file["camera"] for file in one["originals"]] == ["Toy at the front", "Toy at the side"]
    sent = [house.camera.sent[0], side.sent[1]]
    kept = [read(house, file["url"]) for file in one["originals"]]
    assert kept == sent
    assert one["pair"]["from_file"] == 1
    assert 0 <= one["pair"]["spread_ms"] < 1000 * TOGETHER_S
    assert house.ok("GET", f"/shots/{shot}")["exposure_count"] == 1


def test_the_two_shutters_go_together(house: House, side: Timed) -> None:
    shot = house.shot()["id"]
    house.press(shot, count=20)
    front = house.camera
    assert isinstance(front, Timed)
    apart = sorted(abs(a - b) for a, b in zip(front.went, side.went, strict=True))
    assert len(apart) == 20
    assert apart[len(apart) // 2] < TOGETHER_S


def test_without_the_second_nothing_is_exposed(house: House, side: Timed) -> None:
    shot = house.shot()["id"]
    side.plugged = False
    until(lambda: house.ok("GET", "/camera")["second"]["state"] == "away")
    problem = house.problem("POST", f"/shots/{shot}/exposures", 503, "second_camera_away", json={})
    assert "Toy at the side" in problem["detail"]
    assert house.camera.sent == []
    side.plugged = True
    until(lambda: house.ok("GET", "/camera")["second"]["state"] == "ready")
    assert len(house.press(shot)) == 1


@pytest.mark.parametrize("which", ["front", "side"])
def test_a_picture_that_came_alone_is_binned_and_the_press_has_failed(
    house: House, side: Timed, which: str
) -> None:
    shot = house.shot()["id"]
    failing = house.camera if which == "front" else side
    failing.fail_next = CaptureFailed("The flash was empty.", picture_taken=False)
    problem = house.problem("POST", f"/shots/{shot}/exposures", 503, "capture_failed", json={})
    assert "The flash was empty." in problem["detail"]
    assert house.ok("GET", f"/shots/{shot}")["exposure_count"] == 0
    # The picture that came alone may arrive after the press was answered.
    until(lambda: house.library.binned(shot).items)
    [binned] = house.library.binned(shot).items
    assert len(binned.originals) == 1
    assert binned.camera == ("Toy at the side" if which == "front" else "Toy at the front")
    [one] = house.press(shot)
    assert len(one["originals"]) == 2


def test_what_has_gone_is_not_called_off() -> None:
    start = _Start()
    start._there.set()
    start.first_is_ready()
    start.call_off()  # the first failed at once; the second goes all the same, and is binned
    start.second_is_ready()


def test_undo_and_retake_take_both_along(house: House, side: Timed) -> None:
    shot = house.shot()["id"]
    [one] = house.press(shot)
    [again] = house.press(shot, replaces=one["id"])
    house.ok("POST", f"/shots/{shot}/undo")
    [back] = house.ok("GET", f"/shots/{shot}/exposures")["items"]
    assert back["id"] == one["id"] != again["id"]
    assert len(back["originals"]) == 2
    previews = [read(house, f"{back['preview']}?file={file}") for file in (0, 1)]
    assert previews[0] != previews[1]


def test_the_watches_judge_the_first(house: House, side: Timed) -> None:
    shot = house.shot()["id"]
    side.unreadable = True
    house.press(shot, count=2)

    def judged() -> bool:
        items = house.ok("GET", f"/shots/{shot}/exposures")["items"]
        return all(one["verdict"] is not None for one in items)

    until(judged, 30, "for the verdicts")


def test_it_cannot_be_the_first_as_well(house: House, side: Timed) -> None:
    house.problem("PUT", "/camera/second", 409, "conflict", json={"id": "front"})
    house.ok("PUT", "/camera", json=SIDE)
    assert house.ok("GET", "/camera")["second"] is None


def test_going_on_with_one_camera(house: House, side: Timed) -> None:
    shot = house.shot()["id"]
    house.ok("DELETE", "/camera/second")
    [one] = house.press(shot)
    assert one["pair"] is None
    assert len(one["originals"]) == 1
    assert len(side.sent) == 1


def test_a_second_that_hangs_is_told_and_the_first_goes_on_alone_later(
    house: House, side: Timed
) -> None:
    shot = house.shot()["id"]
    side.answer.clear()
    with pytest.raises(StandclearError):
        house.stage.shutter.press(Press(shot=shot))
    assert house.ok("GET", f"/shots/{shot}")["exposure_count"] == 0
    house.ok("GET", "/camera")
    side.answer.set()
    until(lambda: house.ok("GET", "/camera")["second"]["state"] == "ready")
    # Both single pictures lie in the bin: the first's at once, the second's when it came.
    until(lambda: len(house.library.binned(shot).items) == 2)


def test_two_rehearsal_sets_from_the_command_line(tmp_path: Path) -> None:
    second = ("--second", "rehearsal:seed=2")
    with ServiceProcess(tmp_path / "library", "rehearsal:seed=1", *second) as service:
        api = service.api()
        api.wait_for_camera()
        until(lambda: api.ok("GET", "/camera")["second"]["state"] == "ready", 30)
        shot = api.ok("POST", "/shots", json={"name": "two corks", "frame_rate": "12"})["id"]
        [one] = api.ok("POST", f"/shots/{shot}/exposures", json={})["items"]
        sums = {file["sha256"] for file in one["originals"]}
        api.close()
    assert len(sums) == 2
    assert one["pair"]["spread_ms"] < 500
