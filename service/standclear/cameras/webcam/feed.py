"""What a source of frames does for the driver."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from standclear.cameras.base import Setting

Pixels = NDArray[np.uint8]
#: Makes a VideoCapture (or a test's stand-in) of a number, path or address.
OpenCapture = Callable[[int | str], Any]
#: A live picture is waited for so long at most, in seconds.
LIVE_WAIT_S = 1 / 15


@dataclass(frozen=True, slots=True)
class Frame:
    """8-bit BGR pixels (H×W×3) and the monotonic time, in seconds, at which they were had."""

    pixels: Pixels
    at: float


class Feed(Protocol):
    """Frames from one source. Raises CameraAway where the source is gone."""

    def open(self) -> None:
        """Take hold of it."""

    def close(self) -> None:
        """Let go of it; never raises."""

    def newer_than(self, moment: float, count: int, beat: Callable[[], None]) -> list[Frame]:
        """``count`` frames in a row that began after that monotonic time; blocks until they are
        there. Fewer, but one at least, where no further will come. ``beat`` is called at each."""

    def next(self) -> Frame | None:
        """The next frame, ``None`` when none came within about :data:`LIVE_WAIT_S`."""

    def alive(self) -> None:
        """Check that it is there, and take what waits in its queue."""

    def settings(self) -> list[Setting]:
        """What can be set on the source."""

    def change(self, values: Mapping[str, str]) -> None:
        """Set it."""
