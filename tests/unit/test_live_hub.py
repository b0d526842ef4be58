"""The newest picture only, encoded once, for any number of viewers."""

import time

import cv2
import numpy as np

from standclear.cameras.base import LivePicture
from standclear.shooting.live import LiveHub
from tests.waiting import until


def picture(value: int = 128) -> LivePicture:
    return LivePicture(at=time.monotonic(), pixels=np.full((720, 1280, 3), value, np.uint8))


def test_only_the_newest_is_kept() -> None:
    hub = LiveHub()
    for value in range(5):
        hub.publish(picture(value * 50))
    frame = hub.newer_than(0, 0)
    assert frame is not None
    assert frame.seq == 5
    assert frame.pixels()[0, 0, 0] == 200
    assert hub.newer_than(5, 0) is None


def test_a_picture_is_encoded_once_for_each_width() -> None:
    hub = LiveHub()
    hub.publish(picture())
    frame = hub.newer_than(0, 0)
    assert frame is not None
    assert frame.jpeg(640) is frame.jpeg(600)
    assert frame.jpeg() is frame.jpeg(None)
    decoded = cv2.imdecode(np.frombuffer(frame.jpeg(640), np.uint8), cv2.IMREAD_COLOR)
    assert decoded is not None
    assert decoded.shape == (360, 640, 3)


def test_it_never_enlarges() -> None:
    hub = LiveHub()
    hub.publish(picture())
    frame = hub.newer_than(0, 0)
    assert frame is not None
    decoded = cv2.imdecode(np.frombuffer(frame.jpeg(1920), np.uint8), cv2.IMREAD_COLOR)
    assert decoded is not None
    assert decoded.shape[1] == 1280


def test_without_a_watcher_nobody_watches() -> None:
    hub = LiveHub()
    assert not hub.watched
    with hub.watching():
        assert hub.watched
    assert not hub.watched


def test_the_age_grows() -> None:
    hub = LiveHub()
    hub.publish(picture())
    frame = hub.newer_than(0, 0)
    assert frame is not None
    first = frame.age_s
    until(lambda: frame.age_s > first + 0.02)


def test_a_closed_hub_gives_nothing() -> None:
    hub = LiveHub()
    hub.publish(picture())
    hub.close()
    assert hub.newer_than(0, 5) is None
