"""The webcam driver on a video file that the test makes; each frame bears its number."""

import time
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import psutil
import pytest

from standclear.cameras.base import CameraAway, NotOffered
from standclear.cameras.webcam import WebcamCamera
from standclear.cameras.webcam.source import read_source
from standclear.imaging.container import check_whole
from tests.cameras.hand_clock import HandClock

RATE = 25
FRAMES = 100


def numbered(number: int) -> np.ndarray:
    """A frame with its number in eight black or white columns."""
    bits = [255 * (number >> bit & 1) for bit in range(8)]
    columns = np.repeat(np.array(bits, np.uint8), 40)
    return np.dstack([np.tile(columns, (240, 1))] * 3)


def number_of(pixels: np.ndarray) -> int:
    middles = pixels[120, 20::40].mean(axis=-1)
    return sum(int(value > 127) << bit for bit, value in enumerate(middles))


def number_in(png: bytes) -> int:
    return number_of(cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_COLOR))


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("films") / "clock.avi"
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"MJPG"), RATE, (320, 240))
    for number in range(FRAMES):
        writer.write(numbered(number))
    writer.release()
    return path


@pytest.fixture
def clock() -> HandClock:
    return HandClock()


@pytest.fixture
def camera(film: Path, clock: HandClock) -> Iterator[WebcamCamera]:
    camera = WebcamCamera(read_source(str(film)), clock=clock, wait=clock.wait)
    camera.open()
    yield camera
    camera.close()


def seen(camera: WebcamCamera) -> int:
    picture = None
    while picture is None:
        picture = camera.live()
    return number_of(picture.pixels)


def test_every_frame_comes_once_in_order_and_at_its_time(
    camera: WebcamCamera, clock: HandClock
) -> None:
    opened = clock.time
    for number in range(1, FRAMES):
        assert seen(camera) == number
        assert clock.time - opened == pytest.approx(number / RATE, abs=1e-3)


@pytest.mark.parametrize("late", [0.1, 0.51, 1.9, 2.5, 3.3])
def test_it_plays_on_while_nobody_looks(
    camera: WebcamCamera, clock: HandClock, late: float
) -> None:
    """Also past the point from which the file is searched rather than read through."""
    clock.wait(late)
    assert seen(camera) == int(late * RATE + 1e-6) + 1


def test_it_stays_on_its_last_picture(camera: WebcamCamera, clock: HandClock) -> None:
    for passed in (FRAMES / RATE + 0.5, 60.0, 3600.0):
        clock.wait(passed)
        camera.alive()
        before = clock.time
        assert seen(camera) == FRAMES - 1
        assert clock.time - before == pytest.approx(1 / RATE)  # and does not race
        assert number_in(camera.capture().originals[0].data) == FRAMES - 1


def test_opened_again_it_plays_from_the_start(camera: WebcamCamera, clock: HandClock) -> None:
    clock.wait(2.0)
    assert seen(camera) > 40
    camera.close()
    camera.open()
    assert seen(camera) == 1


def test_a_capture_is_newer_than_the_press(camera: WebcamCamera, clock: HandClock) -> None:
    opened = clock.time
    for passed in (0.013, 0.2, 0.031, 1.0):
        clock.wait(passed)
        pressed = clock.time
        number = number_in(camera.capture().originals[0].data)
        shown_at = opened + number / RATE
        assert pressed <= shown_at < pressed + 1.01 / RATE


def test_taken_at_is_when_the_frame_came_not_when_it_was_asked_for(
    camera: WebcamCamera, clock: HandClock
) -> None:
    opened = clock.time
    clock.wait(0.013)
    asked, pressed = clock.now(), clock.time
    taken = camera.capture()
    shown_at = opened + number_in(taken.originals[0].data) / RATE
    waited = (taken.taken_at - asked).total_seconds()
    assert waited == pytest.approx(shown_at - pressed, abs=0.002)
    assert waited > 0.005


def test_live_pictures_take_nothing_from_a_capture(camera: WebcamCamera, clock: HandClock) -> None:
    before = seen(camera)
    clock.wait(0.01)
    captured = number_in(camera.capture().originals[0].data)
    assert (before, captured, seen(camera)) == (1, 2, 3)


def test_the_original_is_a_lossless_whole_png(camera: WebcamCamera, film: Path) -> None:
    taken = camera.capture()
    (original,) = taken.originals
    assert (original.media_type, original.extension) == ("image/png", "png")
    assert (original.width, original.height) == (320, 240)
    assert check_whole(original.data) is None
    pixels = cv2.imdecode(np.frombuffer(original.data, np.uint8), cv2.IMREAD_COLOR)
    reader = cv2.VideoCapture(str(film))
    for _ in range(number_of(pixels) + 1):
        _, decoded = reader.read()
    reader.release()
    assert np.array_equal(pixels, decoded)
    assert taken.settings == {"average": "1"}


def test_an_average_takes_frames_in_a_row(camera: WebcamCamera, clock: HandClock) -> None:
    camera.change({"average": "3"})
    beats: list[int] = []
    camera.beat = lambda: beats.append(1)
    before = clock.time
    camera.capture()
    assert len(beats) >= 3  # a long average is slow, not hung
    assert clock.time - before == pytest.approx(2 / RATE, abs=0.001)
    assert seen(camera) == 3


@pytest.mark.parametrize("value", ["0", "-1", "65", "many", "1e9", "2.5", "²"])
def test_an_average_out_of_reason_is_refused(camera: WebcamCamera, value: str) -> None:
    with pytest.raises(NotOffered, match="whole number from 1 to 64"):
        camera.change({"average": value})
    assert camera.settings()[-1].value == "1"


def test_a_file_has_no_other_settings(camera: WebcamCamera) -> None:
    with pytest.raises(NotOffered, match="no setting 'shutter'"):
        camera.change({"shutter": "1/50"})


def test_what_is_no_video_is_a_camera_away(tmp_path: Path) -> None:
    text = tmp_path / "letter.avi"
    text.write_text("not a film")
    for path, says in ((tmp_path / "none.avi", "no video file"), (text, "no video that")):
        camera = WebcamCamera(read_source(str(path)))
        with pytest.raises(CameraAway, match=says):
            camera.open()
        with pytest.raises(CameraAway):
            camera.alive()


def test_opening_and_closing_fifty_times_leaves_threads_and_files_as_they_were(
    camera: WebcamCamera,
) -> None:
    process = psutil.Process()
    files, threads = process.num_fds(), process.num_threads()
    for _ in range(50):
        camera.close()
        camera.close()
        camera.open()
    assert seen(camera) == 1
    assert (process.num_fds(), process.num_threads()) == (files, threads)


def test_on_a_real_clock_it_keeps_its_rate(film: Path) -> None:
    camera = WebcamCamera.from_source(str(film))
    camera.open()
    started = time.monotonic()
    while seen(camera) < 12:
        pass
    took = time.monotonic() - started
    camera.close()
    assert 12 / RATE - 0.05 <= took < 12 / RATE + 0.4
