"""The rehearsal camera keeps what a camera promises, and is cheap enough to stand in for one."""

import time
from collections.abc import Callable
from itertools import pairwise

import cv2
import numpy as np
import pytest

from standclear.cameras.base import SETTING_NAMES, NotOffered
from standclear.cameras.rehearsal import RehearsalCamera, cork
from standclear.cameras.rehearsal.acting import LENGTH, pose_at
from standclear.cameras.rehearsal.geometry import project
from tests.cameras.hand_clock import HandClock
from tests.cameras.rehearsal_kit import changed, linear, live, pixels, rehearse


def test_twelve_presses_give_twelve_poses() -> None:
    camera, _ = rehearse()
    pictures = [pixels(camera.capture()) for _ in range(12)]
    assert [truth.pose for truth in camera.exposed] == list(range(12))
    for before, after in pairwise(pictures):
        assert changed(before, after).sum() > 500


def test_neighbouring_poses_always_differ_by_more_than_a_pixel() -> None:
    def rims(index: int) -> np.ndarray:
        return project(cork._rims(*cork.frame_of(pose_at(index))))

    moves = [np.abs(rims(i + 1) - rims(i)).max() for i in range(LENGTH)]
    assert min(moves) > 1.5
    assert max(moves) < 160  # no leap that would not read as a movement


def test_live_shows_the_next_pose_at_once() -> None:
    camera, _ = rehearse()
    before = live(camera).copy()
    camera.capture()
    shown = live(camera).copy()
    taken = cv2.resize(pixels(camera.capture()), (1280, 720), interpolation=cv2.INTER_AREA)
    assert changed(before, shown).sum() > 300
    assert changed(taken, shown).sum() == 0


def test_the_still_is_a_whole_jpeg_of_the_promised_size() -> None:
    camera, clock = rehearse()
    pressed = clock.now()
    taken = camera.capture()
    original = taken.originals[0]
    assert (original.media_type, original.extension) == ("image/jpeg", "jpg")
    assert original.data.startswith(b"\xff\xd8\xff")
    assert original.data.endswith(b"\xff\xd9")
    assert pixels(taken).shape == (1080, 1920, 3)
    assert (original.width, original.height) == (1920, 1080)
    assert pressed <= taken.taken_at <= clock.now()
    assert taken.settings["shutter"] == "1/50"


def test_the_same_orders_give_the_same_bytes() -> None:
    orders = "seed=3,flicker=0.02,nudge=2,band=0.02"
    first, again, other = (rehearse(o)[0] for o in (orders, orders, orders.replace("3", "4", 1)))
    for _ in range(3):
        one, two, three = (c.capture().originals[0].data for c in (first, again, other))
        assert one == two
        assert one != three


def test_two_exposures_of_a_still_set_differ_by_noise_alone() -> None:
    camera, _ = rehearse("auto=off")
    one, two = (pixels(camera.capture()).astype(float) for _ in range(2))
    difference = (one - two)[100:1000, 700:1800]
    # Two pictures' noise of 1.1 code values each, lessened a little by JPEG.
    assert 0.7 < difference.std() < 1.7
    assert abs(difference.mean()) < 0.02


def test_live_pictures_come_thirty_a_second() -> None:
    camera, clock = rehearse()
    live(camera)
    start = clock.monotonic()
    shapes = {live(camera).shape for _ in range(60)}
    assert shapes == {(720, 1280, 3)}
    assert clock.monotonic() - start == pytest.approx(2.0, abs=0.05)


def test_a_live_picture_that_is_held_is_not_drawn_over() -> None:
    camera, _ = rehearse()
    held = [live(camera) for _ in range(15)]
    copies = [picture.copy() for picture in held]
    for _ in range(15):
        live(camera)
    assert all((a == b).all() for a, b in zip(held, copies, strict=True))
    assert (copies[0] != copies[1]).any()


def test_it_offers_the_six_settings_and_refuses_others() -> None:
    camera, _ = rehearse()
    assert tuple(setting.name for setting in camera.settings()) == SETTING_NAMES
    assert not any(setting.automatic for setting in camera.settings())
    with pytest.raises(NotOffered, match="flash"):
        camera.change({"iso": "400", "flash": "on"})
    with pytest.raises(NotOffered, match="1/3"):
        camera.change({"shutter": "1/3"})
    values = {setting.name: setting.value for setting in camera.settings()}
    assert (values["iso"], values["shutter"]) == ("400", "1/50")


@pytest.mark.parametrize("name", ["iso", "white_balance", "focus"])
def test_a_setting_on_automatic_says_so(name: str) -> None:
    camera, _ = rehearse()
    camera.change({name: "auto"})
    assert {s.name for s in camera.settings() if s.automatic} == {name}


def test_focus_away_from_the_actor_blurs() -> None:
    camera, _ = rehearse("auto=off")
    sharp = cv2.Laplacian(pixels(camera.capture()), cv2.CV_64F).var()
    camera.change({"focus": "600 mm"})
    assert cv2.Laplacian(pixels(camera.capture()), cv2.CV_64F).var() < 0.7 * sharp


def test_a_higher_colour_temperature_makes_it_warmer() -> None:
    camera, _ = rehearse("auto=off")
    before = pixels(camera.capture()).mean(axis=(0, 1))
    camera.change({"white_balance": "5600 K"})
    after = pixels(camera.capture()).mean(axis=(0, 1))
    assert after[2] / after[0] > 1.2 * before[2] / before[0]


def test_more_iso_means_more_noise() -> None:
    def noise(iso: str) -> float:
        camera, _ = rehearse("auto=off")
        camera.change({"iso": iso})
        one, two = (pixels(camera.capture()).astype(float) for _ in range(2))
        return float((one - two)[700:1000, 900:1500].std())

    assert noise("400") > 1.25 * noise("100")


def test_opening_and_closing_ten_times_leaves_it_working() -> None:
    camera, _ = rehearse()
    for _ in range(10):
        camera.close()
        camera.close()
        camera.open()
    assert linear(live(camera)).mean() > 0.02


def _least_cpu(work: Callable[[], object], times: int) -> float:
    """The least CPU time of one run, in ms: what it costs when nothing else is in the way."""
    spent = []
    for _ in range(times):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return 1e3 * min(spent)


def test_it_is_cheap_enough_for_the_live_budget() -> None:
    threads = cv2.getNumThreads()
    cv2.setNumThreads(1)
    try:
        clock = HandClock()
        camera = RehearsalCamera.from_orders(clock=clock, wait=clock.wait)
        camera.open()
        live(camera)
        assert _least_cpu(lambda: live(camera), 60) < 3.5
        assert _least_cpu(camera.capture, 12) < 60.0
    finally:
        cv2.setNumThreads(threads)
