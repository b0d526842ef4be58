"""The newest live picture, for any number of viewers, each at its own pace.

Nothing is queued: a viewer asks for a picture newer than the last one it got. Encoding happens at
most once for each picture and width, in the thread of the first viewer that asks.
"""

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from standclear.cameras.base import LivePicture
from standclear.imaging.limits import too_large

LIVE_QUALITY = 80
LIVE_WIDTHS = (320, 480, 640, 960, 1280, 1920)

Source = Literal["live", "last_exposure"]


class LiveFrame:
    """One picture with its encodings, made when first asked for."""

    def __init__(self, seq: int, picture: LivePicture, at_ms: int, source: Source) -> None:
        self.seq = seq
        self.picture = picture
        self.at_ms = at_ms
        self.source = source
        self._lock = threading.Lock()
        self._encoded: dict[int, bytes] = {}
        self._made: dict[int, bytes] = {}
        self._pixels = picture.pixels

    @property
    def age_s(self) -> float:
        """Seconds since the driver had this picture."""
        return time.monotonic() - self.picture.at

    def pixels(self) -> NDArray[np.uint8]:
        """The picture as 8-bit BGR (H×W×3), decoded once."""
        with self._lock:
            return self._decoded()

    def jpeg(self, width: int | None = None) -> bytes:
        """The picture as a JPEG, at most ``width`` wide (snapped up to a step of the ladder)."""
        with self._lock:
            step = self._step(width)
            if step not in self._encoded:
                self._encoded[step] = self._encode(step)
            return self._encoded[step]

    def made(self, width: int | None, make: Callable[[bytes], bytes]) -> bytes:
        """What ``make`` makes of the JPEG of that width, made once for all who ask."""
        jpeg = self.jpeg(width)
        with self._lock:
            step = self._step(width)
            if step not in self._made:
                self._made[step] = make(jpeg)
            return self._made[step]

    def _step(self, width: int | None) -> int:
        """0 stands for the picture as it came."""
        if width is None:
            return 0
        return next((step for step in LIVE_WIDTHS if step >= width), 0)

    def _encode(self, step: int) -> bytes:
        if step == 0 and self.picture.jpeg is not None:
            return self.picture.jpeg
        pixels = self._decoded()
        height, width = pixels.shape[:2]
        if step and step < width:
            size = (step, max(1, round(height * step / width)))
            pixels = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8)
        elif step and 0 in self._encoded:
            return self._encoded[0]
        done, data = cv2.imencode(".jpg", pixels, (cv2.IMWRITE_JPEG_QUALITY, LIVE_QUALITY))
        if not done:
            raise ValueError("The live picture could not be encoded.")
        return data.tobytes()

    def _decoded(self) -> NDArray[np.uint8]:
        if self._pixels is None:
            jpeg = self.picture.jpeg or b""
            data = np.frombuffer(jpeg, np.uint8)
            fit = data.size and too_large(jpeg) is None
            decoded = cv2.imdecode(data, cv2.IMREAD_COLOR) if fit else None
            if decoded is None:
                raise ValueError("The live picture could not be read.")
            self._pixels = np.asarray(decoded, np.uint8)
        return self._pixels


class LiveHub:
    """Holds the newest picture and wakes those who wait for it."""

    def __init__(self) -> None:
        self._condition = threading.Condition()
        self._frame: LiveFrame | None = None
        self._seq = 0
        self._watchers = 0
        self._closed = False

    @property
    def closed(self) -> bool:
        """True once the service is stopping."""
        return self._closed

    @property
    def watched(self) -> bool:
        """Whether anybody looks: without a watcher no live picture is fetched."""
        return self._watchers > 0

    @contextmanager
    def watching(self) -> Iterator[None]:
        """Counts as a watcher while entered."""
        with self._condition:
            self._watchers += 1
        try:
            yield
        finally:
            with self._condition:
                self._watchers -= 1

    def publish(self, picture: LivePicture, source: Source = "live") -> None:
        """Make this the newest picture."""
        age_ms = (time.monotonic() - picture.at) * 1000
        at_ms = int(time.time() * 1000 - age_ms)
        with self._condition:
            self._seq += 1
            self._frame = LiveFrame(self._seq, picture, at_ms, source)
            self._condition.notify_all()

    def clear(self) -> None:
        """Forget the picture (the camera was changed)."""
        with self._condition:
            self._frame = None

    def newer_than(self, seq: int, timeout: float) -> LiveFrame | None:
        """The newest picture if it is newer than ``seq``; waits at most ``timeout`` seconds."""
        with self._condition:
            self._condition.wait_for(lambda: self._closed or self.newest(seq) is not None, timeout)
            return self.newest(seq)

    def newest(self, seq: int) -> LiveFrame | None:
        """The newest picture if it is newer than ``seq``, without waiting."""
        frame = self._frame
        return frame if frame is not None and frame.seq > seq and not self._closed else None

    def close(self) -> None:
        """Let every viewer go."""
        with self._condition:
            self._closed = True
            self._condition.notify_all()
