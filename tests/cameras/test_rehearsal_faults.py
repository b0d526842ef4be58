"""Each fault that is ordered from the rehearsal set happens when ordered, and is really there."""

import threading

import cv2
import numpy as np
import pytest

from standclear.cameras.base import BrokenPicture, CameraAway, NotOffered
from standclear.cameras.rehearsal import Orders, RehearsalCamera
from standclear.cameras.rehearsal.light import light_for
from standclear.cameras.rehearsal.orders import read
from tests.cameras.rehearsal_kit import TABLE, changed, linear, live, pixels, rehearse
from tests.waiting import until


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("earthquake=1", "earthquake"),
        ("nudge", "nudge"),
        ("seed=x", "seed"),
        ("seed=1.5", "seed"),
        ("flicker=nan", "flicker"),
        ("flicker=inf", "flicker"),
        ("hand=-1", "hand"),
        ("hang_s=1e9", "hang_s"),
        ("auto=flash", "flash"),
        ("mains=55", "mains"),
        ("seed=1;nudge=2", "seed"),
    ],
)
def test_an_order_it_cannot_take_is_refused_by_name(text: str, named: str) -> None:
    with pytest.raises(NotOffered, match=named):
        RehearsalCamera.from_orders(text)


def test_orders_are_read_with_blanks_and_empty_parts() -> None:
    assert read(" seed = 3 ,, nudge=7,flicker=0.02,") == Orders(seed=3, nudge=7, flicker=0.02)
    assert read("") == Orders()


def test_nudge_moves_the_camera_from_that_exposure_on() -> None:
    camera, _ = rehearse("nudge=3,auto=off")
    for _ in range(4):
        camera.capture()
    rigs = [truth.rig for truth in camera.exposed]
    assert rigs[0] == rigs[1] != rigs[2] == rigs[3]
    assert np.hypot(rigs[2].x_px, rigs[2].y_px) == pytest.approx(1.7)
    assert rigs[2].turn_deg == pytest.approx(0.05)


def test_creep_adds_up() -> None:
    camera, _ = rehearse("creep=0.3,auto=off")
    for _ in range(4):
        camera.capture()
    way = [np.hypot(truth.rig.x_px, truth.rig.y_px) for truth in camera.exposed]
    assert way == pytest.approx([0.0, 0.3, 0.6, 0.9])


def _gain(one: np.ndarray, other: np.ndarray) -> float:
    """Light of the second against the first, from the table."""
    return float(linear(other)[TABLE].mean() / linear(one)[TABLE].mean())


def test_flicker_changes_the_light_as_the_truth_says() -> None:
    camera, _ = rehearse("flicker=0.02,auto=off,seed=5")
    pictures = [pixels(camera.capture()) for _ in range(4)]
    lights = [truth.light.left for truth in camera.exposed]
    for picture, light in zip(pictures[1:], lights[1:], strict=True):
        assert _gain(pictures[0], picture) == pytest.approx(light / lights[0], abs=1e-3)


def test_flicker_has_the_ordered_spread() -> None:
    gains = [light_for(Orders(flicker=0.02, seed=2), n, 0.02).left for n in range(1, 801)]
    assert np.mean(gains) == pytest.approx(1.0, abs=0.003)
    assert np.std(gains) == pytest.approx(0.02, rel=0.1)


def test_drift_multiplies_exposure_by_exposure() -> None:
    camera, _ = rehearse("drift=-0.01,auto=off")
    pictures = [pixels(camera.capture()) for _ in range(4)]
    assert _gain(pictures[0], pictures[3]) == pytest.approx(0.99**3, abs=1e-3)


def test_side_takes_light_from_one_side_only() -> None:
    camera, _ = rehearse("side=2,auto=off")
    before, after = (linear(pixels(camera.capture())) for _ in range(2))
    left, right = (after[:, part].sum() / before[:, part].sum() for part in (_LEFT, _RIGHT))
    assert left == pytest.approx(1.0, abs=0.002)
    assert right == pytest.approx(0.97, abs=0.002)


_LEFT, _RIGHT = np.s_[:60], np.s_[-60:]


def test_band_beats_along_the_rows_and_not_at_multiples_of_the_half_wave() -> None:
    def beat(shutter: str) -> tuple[float, float]:
        camera, _ = rehearse("band=0.03,mains=60,auto=off,noise=0")
        plain = linear(pixels(rehearse("auto=off,noise=0")[0].capture()))
        steady = plain.sum(axis=1)
        camera.change({"shutter": shutter})
        rows = linear(pixels(camera.capture())).sum(axis=1) / steady
        rows /= rows.mean()
        return float(np.sqrt(2.0) * rows.std()), camera.exposed[-1].light.band

    measured, truth = beat("1/50")
    assert truth == pytest.approx(0.03 * np.sin(np.pi * 2.4), rel=1e-6)
    assert measured == pytest.approx(truth, rel=0.12)
    # Mains light varies at twice the mains frequency: 1/60 s is two whole waves at 60 Hz.
    measured, truth = beat("1/60")
    assert truth == pytest.approx(0.0, abs=1e-9)
    assert measured < 0.003


def test_a_hand_is_left_in_at_that_exposure_only() -> None:
    camera, _ = rehearse("hand=2,auto=off")
    first = pixels(camera.capture())
    assert changed(first, _enlarged(live(camera)))[:, -20:].sum() > 500
    second, third = pixels(camera.capture()), pixels(camera.capture())
    assert [truth.hand_in_picture for truth in camera.exposed] == [False, True, False]
    assert changed(first, second)[:, -20:].sum() > 500
    assert changed(first, second).mean() > 0.02
    assert not changed(first, third).any()


def _enlarged(picture: np.ndarray) -> np.ndarray:
    return np.asarray(cv2.resize(picture, (1920, 1080), interpolation=cv2.INTER_LINEAR))


def test_same_repeats_the_pose_before() -> None:
    camera, _ = rehearse("same=3")
    pictures = [pixels(camera.capture()) for _ in range(4)]
    assert [truth.pose for truth in camera.exposed] == [0, 1, 1, 2]
    assert changed(pictures[0], pictures[1]).any()
    assert not changed(pictures[1], pictures[2]).any()


def test_focus_slips_without_a_change_of_light() -> None:
    camera, _ = rehearse("focus=2,auto=off")
    sharp, soft = (pixels(camera.capture()) for _ in range(2))
    detail = [cv2.Laplacian(p[TABLE], cv2.CV_64F, ksize=5).var() for p in (sharp, soft)]
    assert detail[1] < 0.6 * detail[0]
    assert _gain(sharp, soft) == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("name", ["iso", "exposure_mode", "white_balance"])
def test_a_setting_left_on_automatic_wanders_and_is_written(name: str) -> None:
    camera, _ = rehearse(f"auto={name}")
    assert name in {s.name for s in camera.settings() if s.automatic}
    taken = [camera.capture() for _ in range(4)]
    colours = np.array([pixels(t)[TABLE].mean(axis=(0, 1)) for t in taken])
    figure = colours[:, 2] / colours[:, 0] if name == "white_balance" else colours[:, 1]
    assert np.ptp(figure) / figure.mean() > 0.005
    shown = "shutter" if name == "exposure_mode" else name
    assert len({t.settings[shown] for t in taken}) == 4
    assert camera.exposed[-1].pose == 3  # the cork still takes its poses by itself


def test_unplugged_it_is_away_and_comes_back() -> None:
    camera, clock = rehearse("unplug=2,back=3")
    camera.capture()
    for call in (camera.capture, camera.live, camera.alive, camera.open):
        with pytest.raises(CameraAway):
            call()
    clock.wait(3.1)
    with pytest.raises(CameraAway, match="not open"):
        camera.capture()
    camera.open()
    camera.capture()
    assert [truth.number for truth in camera.exposed] == [1, 2]


def test_the_cable_can_be_pulled_by_hand() -> None:
    camera, clock = rehearse()
    camera.unplug()
    clock.wait(1000)
    with pytest.raises(CameraAway, match="unplugged"):
        camera.alive()
    camera.plug_in()
    camera.open()
    camera.alive()


def test_it_hangs_for_as_long_as_ordered_and_then_answers() -> None:
    camera, clock = rehearse("hang=2,hang_s=10")
    camera.capture()
    start = clock.monotonic()
    camera.capture()
    assert 10.0 <= clock.monotonic() - start < 10.5


def test_closing_ends_a_call_that_hangs() -> None:
    camera = RehearsalCamera.from_orders()
    camera.open()
    camera.hang(300.0)
    ended: list[CameraAway] = []
    begun = threading.Event()

    def press() -> None:
        begun.set()
        with pytest.raises(CameraAway) as caught:
            camera.capture()
        ended.append(caught.value)

    thread = threading.Thread(target=press)
    thread.start()
    begun.wait()
    camera.close()
    until(lambda: ended, timeout=5.0, what="for the hung call to end")
    thread.join()


@pytest.mark.parametrize("ordered", [True, False])
def test_a_picture_cut_short_is_noticed_and_not_kept(ordered: bool) -> None:
    camera, _ = rehearse("corrupt=1" if ordered else "")
    if not ordered:
        camera.corrupt_next()
    with pytest.raises(BrokenPicture) as caught:
        camera.capture()
    assert caught.value.picture_taken is True
    pixels(camera.capture())
    assert [truth.number for truth in camera.exposed] == [1]
