"""A video file in place of a camera: played once, at its own rate, from the moment it is opened;
then it stays on its last picture, like a camera that looks at a set at rest."""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import cv2

from standclear.cameras.base import CameraAway, NotOffered, Setting
from standclear.cameras.webcam.feed import LIVE_WAIT_S, Frame, OpenCapture, Pixels

#: Where a file does not tell its rate, in frames a second.
_USUAL_RATE = 25.0
#: So far behind, in seconds, the file is searched rather than read through.
_FAR_BEHIND_S = 2.0


#: So early, in seconds, a frame counts as due: waiting for less than that is not worth a call.
_EARLY_S = 0.0005


class Film:
    """The frames of one file. A frame is grabbed ahead of its time and shown when it is due."""

    def __init__(
        self,
        path: str,
        *,
        open_capture: OpenCapture,
        monotonic: Callable[[], float],
        wait: Callable[[float], None],
    ) -> None:
        self._path = path
        self._open_capture = open_capture
        self._monotonic = monotonic
        self._wait = wait
        self._capture: Any = None
        self._shown: Pixels | None = None
        self._shown_due = 0.0
        self._next_due: float | None = None
        self._started = 0.0
        self._rate = _USUAL_RATE

    def open(self) -> None:
        """Open it, and start the time."""
        self.close()
        if not Path(self._path).is_file():
            raise CameraAway(f"There is no video file {self._path}.")
        self._capture = self._open_capture(self._path)
        rate = self._capture.get(cv2.CAP_PROP_FPS) if self._capture.isOpened() else 0.0
        self._rate = rate if 0 < rate < 1000 else _USUAL_RATE
        self._shown, self._shown_due = None, 0.0
        self._next_due = self._grab(0.0) if self._capture.isOpened() else None
        if self._next_due is None:
            self.close()
            raise CameraAway(f"{self._path} is no video that can be played here.")
        self._started = self._monotonic()
        self._next_due = 0.0
        self._advance()

    def close(self) -> None:
        """Close the file."""
        capture, self._capture = self._capture, None
        if capture is not None:
            capture.release()

    def newer_than(self, moment: float, count: int, beat: Callable[[], None]) -> list[Frame]:
        """The first frames that are due after the moment; the last picture once all are shown."""
        frames: list[Frame] = []
        due = moment - self._started
        self._advance()
        while len(frames) < count:
            while self._next_due is not None and self._shown_due < due:
                self._wait_for_next()
                self._advance()
            frames.append(self._frame())
            beat()
            if self._next_due is None:
                break
            due = self._next_due
        return frames

    def next(self) -> Frame | None:
        """The next frame when it is due; at the end the last picture again, at the same pace."""
        self._advance()
        before = self._shown_due
        if self._next_due is None:
            self._wait(min(1 / self._rate, LIVE_WAIT_S))
            return self._frame()
        self._wait_for_next()
        self._advance()
        return self._frame() if self._shown_due > before else None

    def alive(self) -> None:
        """Keep up with the time."""
        self._advance()

    def settings(self) -> list[Setting]:
        """A file has none."""
        return []

    def change(self, values: Mapping[str, str]) -> None:
        """A file has none."""
        for name in values:
            raise NotOffered(f"A video file has no setting {name!r}.")

    def _elapsed(self) -> float:
        return self._monotonic() - self._started

    def _frame(self) -> Frame:
        if self._shown is None:
            raise CameraAway(f"{self._path} is not open, or gave no picture.")
        return Frame(self._shown, self._monotonic())

    def _wait_for_next(self) -> None:
        left = (self._next_due or 0.0) - self._elapsed()
        if left > 0:
            self._wait(min(left, LIVE_WAIT_S))

    def _advance(self) -> None:
        """Show the frame that is due now. All that is passed is decoded; far behind, searched."""
        if self._capture is None:
            raise CameraAway(f"{self._path} is not open.")
        if self._next_due is not None and self._elapsed() - self._next_due > _FAR_BEHIND_S:
            self._search(self._elapsed())
        while self._next_due is not None and self._next_due <= self._elapsed() + _EARLY_S:
            came, pixels = self._capture.retrieve()
            if came:
                self._shown, self._shown_due = pixels, self._next_due
            self._next_due = self._grab(self._next_due + 1 / self._rate)

    def _grab(self, expected: float) -> float | None:
        """Grab one frame: when it is due, in seconds from the start; ``None`` at the end.

        The file's own time stamps count; where they stand still or run back, its rate.
        """
        if not self._capture.grab():
            return None
        told = float(self._capture.get(cv2.CAP_PROP_POS_MSEC)) / 1000
        return told if self._shown_due < told < expected + 10 else expected

    def _search(self, elapsed: float) -> None:
        count = int(self._capture.get(cv2.CAP_PROP_FRAME_COUNT))
        frame = min(int(elapsed * self._rate), count - 1)
        if frame <= 0 or not self._capture.set(cv2.CAP_PROP_POS_FRAMES, frame):
            return
        self._shown_due = (frame - 1) / self._rate
        found = self._grab(frame / self._rate)
        if found is not None:
            self._next_due = found
