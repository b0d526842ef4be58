"""A webcam or network camera: frames as they come, and none older than asked for.

A device hands out frames that have waited in its queue, without saying so. A frame that is there
at once has waited; one that had to be waited for is fresh, and was begun one frame time earlier.
"""

from collections.abc import Callable, Mapping
from typing import Any

import cv2

from standclear.cameras.base import CameraAway, Setting
from standclear.cameras.webcam.controls import Controls
from standclear.cameras.webcam.feed import Frame, OpenCapture
from standclear.cameras.webcam.source import Source

_USUAL_RATE = 30.0
#: A frame that took this part of a frame time to come had not waited.
_FRESH_PART = 0.3
#: No driver queues more frames than this.
_LONGEST_QUEUE = 8
#: A damaged frame now and then is usual; so many in a row are a device that is gone.
_FAILURES = 3


class Device:
    """The frames and settings of one device."""

    def __init__(
        self, source: Source, *, open_capture: OpenCapture, monotonic: Callable[[], float]
    ) -> None:
        self._source = source
        self._open_capture = open_capture
        self._monotonic = monotonic
        self._capture: Any = None
        self._controls: Controls | None = None
        self._frame_time = 1 / _USUAL_RATE

    def open(self) -> None:
        """Open it, ask for its size, switch what it can to manual, and wait for a first frame."""
        self.close()
        capture = self._capture = self._open_capture(self._source.opens)
        if not capture.isOpened():
            self.close()
            raise CameraAway(
                f"The webcam {self._source.opens} cannot be opened: it is not plugged in, another "
                "program holds it, or this user may not use video devices (group video)."
            )
        if "://" not in str(self._source.opens):
            self._ask_for_size(capture)
        self._controls = Controls(capture)
        rate = capture.get(cv2.CAP_PROP_FPS)
        self._frame_time = 1 / rate if 1 <= rate < 1000 else 1 / _USUAL_RATE
        self._grab()

    def close(self) -> None:
        """Let go of it."""
        capture, self._capture = self._capture, None
        self._controls = None
        if capture is not None:
            capture.release()

    def newer_than(self, moment: float, count: int, beat: Callable[[], None]) -> list[Frame]:
        """Discard what waits in the queue and the frame in progress, then take the next ones."""
        for _ in range(_LONGEST_QUEUE):
            self._grab_fresh()
            if self._monotonic() - self._frame_time >= moment:
                break
        frames = [self._frame()]
        while len(frames) < count:
            beat()
            self._grab()
            frames.append(self._frame())
        return frames

    def next(self) -> Frame | None:
        """The newest frame, at the device's own pace."""
        self._grab_fresh()
        return self._frame()

    def alive(self) -> None:
        """Take one frame, which fails when the device is gone."""
        self._grab()

    def settings(self) -> list[Setting]:
        """What the device lets us set."""
        return self._controls.settings() if self._controls else []

    def change(self, values: Mapping[str, str]) -> None:
        """Set it."""
        if self._controls is None:
            raise self._gone()
        self._controls.change(values)

    def _ask_for_size(self, capture: Any) -> None:
        # Over USB 2 only compressed frames reach full rate at these sizes.
        capture.set(cv2.CAP_PROP_FOURCC, cv2.VideoWriter.fourcc(*"MJPG"))
        capture.set(cv2.CAP_PROP_FRAME_WIDTH, self._source.size[0])
        capture.set(cv2.CAP_PROP_FRAME_HEIGHT, self._source.size[1])
        capture.set(cv2.CAP_PROP_BUFFERSIZE, 1)

    def _gone(self) -> CameraAway:
        return CameraAway(f"The webcam {self._source.opens} gives no picture: is it plugged in?")

    def _grab(self) -> float:
        """Grab one frame; how long it was waited for, in seconds."""
        started = self._monotonic()
        for _ in range(_FAILURES):
            if self._capture is not None and self._capture.grab():
                return self._monotonic() - started
        raise self._gone()

    def _grab_fresh(self) -> None:
        for _ in range(_LONGEST_QUEUE):
            if self._grab() >= _FRESH_PART * self._frame_time:
                return

    def _frame(self) -> Frame:
        came, pixels = self._capture.retrieve()
        if not came:
            raise self._gone()
        return Frame(pixels, self._monotonic())
