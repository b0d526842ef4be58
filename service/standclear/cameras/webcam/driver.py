"""A webcam, a network camera or a video file as a Camera.

A webcam gives no file of its own, so one is made: PNG, which keeps every pixel as it came. With
little compression (Huffman coding only) a 1920×1080 picture takes about a tenth of a second.
"""

import time
from collections.abc import Callable, Mapping
from datetime import timedelta
from typing import ClassVar

import cv2

from standclear.cameras.base import (
    Camera,
    Capabilities,
    CaptureFailed,
    Identity,
    LivePicture,
    NotOffered,
    Original,
    Setting,
    Taken,
)
from standclear.cameras.webcam.device import Device
from standclear.cameras.webcam.feed import Feed, OpenCapture, Pixels
from standclear.cameras.webcam.film import Film
from standclear.cameras.webcam.opening import open_source
from standclear.cameras.webcam.source import MOST_AVERAGED, Source, read_source
from standclear.clock import Clock, SystemClock
from standclear.imaging.averaging import mean_in_linear_light

_AVERAGE = "average"
_PNG = [
    cv2.IMWRITE_PNG_COMPRESSION,
    1,
    cv2.IMWRITE_PNG_STRATEGY,
    cv2.IMWRITE_PNG_STRATEGY_HUFFMAN_ONLY,
    cv2.IMWRITE_PNG_FILTER,
    cv2.IMWRITE_PNG_FILTER_SUB,
]


class WebcamCamera(Camera):
    """Frames of one source as pictures; ``average`` of them, in linear light, for each capture."""

    kind: ClassVar[str] = "webcam"

    def __init__(
        self,
        source: Source,
        *,
        clock: Clock | None = None,
        open_capture: OpenCapture = open_source,
        wait: Callable[[float], None] = time.sleep,
    ) -> None:
        self._source = source
        self._clock = clock or SystemClock()
        self._average = source.average
        monotonic = self._clock.monotonic
        self._feed: Feed = (
            Film(str(source.opens), open_capture=open_capture, monotonic=monotonic, wait=wait)
            if source.is_film
            else Device(source, open_capture=open_capture, monotonic=monotonic)
        )

    @classmethod
    def from_source(cls, text: str) -> "WebcamCamera":
        """The webcam of what stands after the colon of its id; raises NotOffered."""
        return cls(read_source(text))

    @property
    def identity(self) -> Identity:
        """The id as given."""
        what = "Video file" if self._source.is_film else "Webcam"
        label = f"{what} {self._source.opens}"
        return Identity(f"{self.kind}:{self._source.text}", self.kind, label)

    @property
    def capabilities(self) -> Capabilities:
        """All of them give a live picture; what can be set is up to the source."""
        return Capabilities(live_picture=True, settings=True)

    def open(self) -> None:
        """Take hold of the source; a video file starts to play."""
        self._feed.open()

    def close(self) -> None:
        """Let go of it."""
        self._feed.close()

    def capture(self) -> Taken:
        """The mean of the next frames that began after this call."""
        moment = self._clock.monotonic()
        asked_at = self._clock.now()
        frames = self._feed.newer_than(moment, self._average, self.beat)
        middle = sum(frame.at for frame in frames) / len(frames)
        taken_at = asked_at + timedelta(seconds=max(0.0, middle - moment))
        self.beat()
        pictures = [frame.pixels for frame in frames]
        if len({picture.shape for picture in pictures}) > 1:
            raise CaptureFailed("The webcam changed its picture size while exposing.")
        original = _as_png(mean_in_linear_light(pictures))
        in_force = {setting.name: setting.value for setting in self.settings()}
        return Taken((original,), taken_at, in_force)

    def live(self) -> LivePicture | None:
        """The next frame."""
        frame = self._feed.next()
        return LivePicture(frame.at, pixels=frame.pixels) if frame else None

    def settings(self) -> list[Setting]:
        """Those of the source, and how many frames make one picture."""
        label = "Frames averaged for each picture"
        average = Setting(
            _AVERAGE, label, str(self._average), minimum=1, maximum=MOST_AVERAGED, step=1
        )
        return [*self._feed.settings(), average]

    def change(self, values: Mapping[str, str]) -> None:
        """Set them one after the other, in the order given."""
        for name, value in values.items():
            if name == _AVERAGE:
                self._average = _whole_number(value)
            else:
                self._feed.change({name: value})

    def alive(self) -> None:
        """Whether frames still come."""
        self._feed.alive()


def _whole_number(value: str) -> int:
    if value.isascii() and value.isdigit() and 1 <= int(value) <= MOST_AVERAGED:
        return int(value)
    raise NotOffered(f"{_AVERAGE!r} takes a whole number from 1 to {MOST_AVERAGED}, not {value!r}.")


def _as_png(pixels: Pixels) -> Original:
    done, data = cv2.imencode(".png", pixels, _PNG)
    if not done:
        raise CaptureFailed("The picture could not be made into a PNG.", picture_taken=True)
    height, width = pixels.shape[:2]
    return Original(data.tobytes(), "image/png", "png", width, height)
