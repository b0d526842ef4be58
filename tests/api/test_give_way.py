"""A press comes first: looking at the last picture pauses between its steps while one goes on."""

import threading

import pytest

from standclear.shooting import shutter as shutter_module
from standclear.shooting.shutter import Shutter
from standclear.shooting.watches.shot_watch import ShotWatch
from tests.api.conftest import House
from tests.pictures import jpeg
from tests.waiting import until


def test_long_work_waits_for_the_press(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutter_module, "STEP_WAITS_S", 60.0)
    went_on_when_idle: list[bool] = []
    shutter = house.stage.shutter
    with house.exposing(house.shot()["id"]):

        def work() -> None:
            shutter.give_way()
            went_on_when_idle.append(shutter.is_idle())

        working = threading.Thread(target=work)
        working.start()
        working.join(0.2)  # time enough to go on by mistake
    working.join()
    assert went_on_when_idle == [True]


def test_a_long_press_does_not_hold_it_up_for_long(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shutter_module, "STEP_WAITS_S", 0.01)
    shutter = house.stage.shutter
    with house.exposing(house.shot()["id"]):
        shutter.give_way()
        assert not shutter.is_idle()


def test_a_long_exposure_is_no_rest(house: House) -> None:
    shutter = house.stage.shutter
    with house.exposing(house.shot()["id"]):
        assert not shutter.wait_quiet(at_most_s=0.2)
    assert shutter.wait_quiet()


def test_without_a_press_it_goes_on_at_once(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    waited: list[bool] = []
    monkeypatch.setattr(house.stage.shutter, "wait_quiet", lambda **_: waited.append(True))
    house.stage.shutter.give_way()
    assert not waited


def test_a_watch_gives_way_between_its_steps() -> None:
    steps: list[str] = []
    watch = ShotWatch(give_way=lambda: steps.append("step"))
    for seed in (1, 2):
        steps.clear()
        watch.examine_file(jpeg(640, 360, seed=seed), key=str(seed))
    assert len(steps) == 4  # decoded, prepared, placed, measured


def test_the_watches_of_a_set_give_way_to_its_shutter(
    monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest
) -> None:
    steps: list[str] = []
    monkeypatch.setattr(Shutter, "give_way", lambda _: steps.append("step"))
    house: House = request.getfixturevalue("house")
    house.press(house.shot()["id"])
    until(lambda: bool(steps))
