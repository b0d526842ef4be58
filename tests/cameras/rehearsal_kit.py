"""A rehearsal camera on a clock that goes only when told to, and ways to look at its pictures."""

import cv2
import numpy as np
from numpy.typing import NDArray

from standclear.cameras.base import Taken
from standclear.cameras.rehearsal import RehearsalCamera
from tests.cameras.hand_clock import HandClock

#: A part of the still where only table is: rows, columns.
TABLE = np.s_[760:1060, 900:1860]


def rehearse(orders: str = "", clock: HandClock | None = None) -> tuple[RehearsalCamera, HandClock]:
    """An open camera with those orders, and its clock."""
    clock = clock or HandClock()
    camera = RehearsalCamera.from_orders(orders, clock=clock, wait=clock.wait)
    camera.open()
    return camera, clock


def pixels(taken: Taken) -> NDArray[np.uint8]:
    """The picture, decoded: H×W×3, BGR."""
    data = np.frombuffer(taken.originals[0].data, np.uint8)
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR))


def live(camera: RehearsalCamera) -> NDArray[np.uint8]:
    """The next live picture's pixels."""
    picture = camera.live()
    assert picture is not None
    assert picture.pixels is not None
    return picture.pixels


def linear(picture: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Linear light of sRGB codes (IEC 61966-2-1), mean of the channels: H×W, 0 to 1."""
    return np.asarray(cv2.transform(_LINEAR[picture], np.full((1, 3), 1 / 3, np.float32)))


_CODE = np.arange(256) / 255.0
_LINEAR = np.where(_CODE <= 0.04045, _CODE / 12.92, ((_CODE + 0.055) / 1.055) ** 2.4)
_LINEAR = _LINEAR.astype(np.float32)


def changed(one: NDArray[np.uint8], other: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Where two pictures differ by more than noise."""
    one, other = (cv2.GaussianBlur(p, (0, 0), 2.0) for p in (one, other))
    return np.asarray(cv2.absdiff(one, other).max(axis=2) > 6)
