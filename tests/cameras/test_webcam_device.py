"""The webcam driver on a stand-in for a device: queue, unplugging, settings."""

from collections.abc import Callable

import cv2
import numpy as np
import pytest

from standclear.cameras.base import CameraAway, CaptureFailed, NotOffered, Setting
from standclear.cameras.webcam import WebcamCamera
from standclear.cameras.webcam.source import read_source
from tests.cameras.hand_clock import HandClock

FRAME_TIME = 1 / 30
#: OpenCV's V4L2 levels: the menu of V4L2_CID_EXPOSURE_AUTO (Linux kernel, v4l2-controls.h).
MANUAL, APERTURE_PRIORITY = 1.0, 3.0


class ToyDevice:
    """Frame n begins at n frame times, is there at n + 1, and waits in a queue of four."""

    def __init__(self, clock: HandClock, queue: int = 4) -> None:
        self.clock = clock
        self.queue = queue
        self.taken = -1
        self.grabbed = -1
        self.plugged = True
        self.shape = (48, 64, 3)
        self.released = 0
        self.props = {
            cv2.CAP_PROP_FPS: 30.0,
            cv2.CAP_PROP_AUTO_EXPOSURE: APERTURE_PRIORITY,
            cv2.CAP_PROP_EXPOSURE: 157.0,
            cv2.CAP_PROP_GAIN: 64.0,
            cv2.CAP_PROP_AUTO_WB: 1.0,
            cv2.CAP_PROP_WB_TEMPERATURE: 4600.0,
            cv2.CAP_PROP_BRIGHTNESS: 0.0,
        }
        self.stuck: set[int] = set()

    def isOpened(self) -> bool:
        return self.plugged

    def getBackendName(self) -> str:
        return "V4L2"

    def get(self, prop: int) -> float:
        return self.props.get(prop, -1.0)

    def set(self, prop: int, value: float) -> bool:
        if prop not in self.props or prop in self.stuck:
            return False
        self.props[prop] = value
        return True

    def grab(self) -> bool:
        if not self.plugged:
            return False
        newest = int(self.clock.time / FRAME_TIME + 1e-6) - 1
        oldest = max(self.taken + 1, newest - self.queue + 1)
        arrives = (oldest + 1) * FRAME_TIME
        self.clock.time = max(self.clock.time + 0.0002, arrives)
        self.taken = self.grabbed = oldest
        return True

    def retrieve(self) -> tuple[bool, np.ndarray]:
        pixels = np.zeros(self.shape, np.uint8)
        pixels[..., 0], pixels[..., 1] = divmod(self.grabbed % 65536, 256)
        return True, pixels

    def release(self) -> None:
        self.released += 1


def frame_in(png: bytes) -> int:
    pixels = cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_COLOR)
    return int(pixels[0, 0, 0]) * 256 + int(pixels[0, 0, 1])


@pytest.fixture
def clock() -> HandClock:
    return HandClock()


@pytest.fixture
def device(clock: HandClock) -> ToyDevice:
    return ToyDevice(clock)


@pytest.fixture
def make(device: ToyDevice, clock: HandClock) -> Callable[[str], WebcamCamera]:
    def made(source: str) -> WebcamCamera:
        camera = WebcamCamera(read_source(source), clock=clock, open_capture=lambda _: device)
        camera.open()
        return camera

    return made


def by_name(camera: WebcamCamera) -> dict[str, Setting]:
    return {setting.name: setting for setting in camera.settings()}


@pytest.mark.parametrize("idle", [0.0, 0.01, 0.033, 0.09, 0.5, 60.0])
def test_no_frame_that_waited_in_the_queue_or_began_before_the_press_is_taken(
    make: Callable[[str], WebcamCamera], clock: HandClock, idle: float
) -> None:
    camera = make("0")
    for _ in range(5):
        clock.wait(idle)
        pressed = clock.time
        frame = frame_in(camera.capture().originals[0].data)
        assert frame * FRAME_TIME >= pressed - 1e-6
        assert clock.time - pressed < 4 * FRAME_TIME


def test_frames_are_averaged_in_a_row(
    make: Callable[[str], WebcamCamera], clock: HandClock
) -> None:
    camera = make("0?average=4")
    pressed = clock.time
    camera.capture()
    assert 4 * FRAME_TIME <= clock.time - pressed < 7 * FRAME_TIME


def test_live_pictures_come_at_the_devices_rate(
    make: Callable[[str], WebcamCamera], clock: HandClock
) -> None:
    camera = make("0")
    started = clock.time
    pictures = [camera.live() for _ in range(30)]
    assert clock.time - started == pytest.approx(1.0, abs=0.05)
    assert len({picture.at for picture in pictures if picture}) == 30


def test_an_unplugged_device_is_told_by_each_call_and_taken_up_again(
    make: Callable[[str], WebcamCamera], device: ToyDevice
) -> None:
    camera = make("0")
    device.plugged = False
    calls: list[Callable[[], object]] = [camera.live, camera.capture, camera.alive]
    for call in calls:
        with pytest.raises(CameraAway, match="plugged in"):
            call()
    camera.close()
    with pytest.raises(CameraAway, match="cannot be opened"):
        camera.open()
    device.plugged = True
    camera.open()
    camera.capture()
    assert device.released == 2


def test_one_damaged_frame_is_passed_over(
    make: Callable[[str], WebcamCamera], device: ToyDevice, monkeypatch: pytest.MonkeyPatch
) -> None:
    camera = make("0")
    answers = iter([False])
    grab = device.grab
    monkeypatch.setattr(device, "grab", lambda: next(answers, True) and grab())
    assert camera.live() is not None


def test_what_can_be_manual_is_manual_once_open(
    make: Callable[[str], WebcamCamera], device: ToyDevice
) -> None:
    settings = by_name(make("0"))
    assert device.props[cv2.CAP_PROP_AUTO_EXPOSURE] == MANUAL
    assert device.props[cv2.CAP_PROP_AUTO_WB] == 0
    assert settings["exposure_mode"].value == "manual"
    names = ("shutter", "white_balance", "exposure_mode")
    assert [settings[name].automatic for name in names] == [False, False, False]
    assert settings["shutter"].value == "157"
    assert settings["iso"].automatic is None  # no property tells
    assert "focus" not in settings
    assert list(settings) == [
        *("shutter", "iso", "white_balance", "exposure_mode"),
        *("brightness", "average"),
    ]


def test_what_stays_automatic_is_called_so(
    make: Callable[[str], WebcamCamera], device: ToyDevice
) -> None:
    device.stuck = {cv2.CAP_PROP_AUTO_EXPOSURE}
    settings = by_name(make("0"))
    assert settings["exposure_mode"].automatic is True
    assert (settings["shutter"].value, settings["shutter"].automatic) == ("auto", True)


def test_settings_are_written_to_the_device(
    make: Callable[[str], WebcamCamera], device: ToyDevice
) -> None:
    camera = make("0")
    camera.change({"white_balance": "auto", "shutter": "200", "brightness": "3"})
    assert device.props[cv2.CAP_PROP_AUTO_WB] == 1
    assert device.props[cv2.CAP_PROP_EXPOSURE] == 200
    assert by_name(camera)["white_balance"].automatic is True
    camera.change({"white_balance": "5000"})
    assert device.props[cv2.CAP_PROP_AUTO_WB] == 0
    assert camera.capture().settings["white_balance"] == "5000"


@pytest.mark.parametrize(
    ("name", "value"),
    [
        *(("focus", "3"), ("sparkle", "1"), ("shutter", "fast"), ("exposure_mode", "sometimes")),
        *(("iso", "auto"), ("shutter", "nan")),
    ],
)
def test_what_the_device_does_not_offer_is_refused(
    make: Callable[[str], WebcamCamera], device: ToyDevice, name: str, value: str
) -> None:
    camera = make("0")
    before = dict(device.props)
    with pytest.raises(NotOffered, match=name):
        camera.change({name: value})
    assert device.props == before


def test_a_change_of_size_while_averaging_is_no_picture(
    make: Callable[[str], WebcamCamera], device: ToyDevice, monkeypatch: pytest.MonkeyPatch
) -> None:
    camera = make("0?average=2")
    sizes = iter([(48, 64, 3), (96, 128, 3)])
    monkeypatch.setattr(device, "retrieve", lambda: (True, np.zeros(next(sizes), np.uint8)))
    with pytest.raises(CaptureFailed, match="size"):
        camera.capture()


@pytest.mark.parametrize(
    ("text", "opens", "is_film", "average"),
    [
        ("0", 0, False, 1),
        ("2?average=4&size=1280x720", 2, False, 4),
        ("/dev/video2", "/dev/video2", False, 1),
        ("/films/a.avi", "/films/a.avi", True, 1),
        ("/films/what?.avi", "/films/what?.avi", True, 1),
        ("/films/a.avi?average=2", "/films/a.avi", True, 2),
        ("http://192.0.2.1/live?user=a", "http://192.0.2.1/live?user=a", False, 1),
        ("http://192.0.2.1/live?user=a&average=3", "http://192.0.2.1/live?user=a", False, 3),
    ],
)
def test_sources_are_read(text: str, opens: object, is_film: bool, average: int) -> None:
    source = read_source(text)
    assert (source.opens, source.is_film, source.average) == (opens, is_film, average)


@pytest.mark.parametrize(
    "text", ["", "?average=2", "0?average=0", "0?average=x", "0?size=big", "0?sparkle=1", "0?"]
)
def test_sources_that_make_no_sense_are_refused(text: str) -> None:
    with pytest.raises(NotOffered):
        read_source(text)
