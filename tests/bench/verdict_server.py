"""The service on a camera whose pictures lie ready: only the service's own work is measured.

Usage: python -m tests.bench.verdict_server LIBRARY PICTURES. The folder holds stills (still*.jpg)
and live pictures (live*.png), which come thirty times a second.
"""

import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from standclear.cameras.base import (
    Camera,
    Capabilities,
    Identity,
    LivePicture,
    Original,
    Setting,
    Taken,
)
from standclear.clock import SystemClock
from standclear.finishing.jobs import ExportDesk
from standclear.imaging.container import identify
from standclear.library.library import Library
from standclear.shooting.stage import Stage
from standclear.web.app import create_app
from standclear.web.gate import Gate
from tests.bench.serve_stage import serve_stage

LIVE_EVERY_S = 1 / 30


class ReadyCamera(Camera):
    """Gives one of a few prepared pictures at once."""

    kind = "ready"

    def __init__(self, folder: Path) -> None:
        self._files = [path.read_bytes() for path in sorted(folder.glob("still*.jpg"))]
        facts = identify(self._files[0])
        self._size = (facts.width, facts.height)
        self._live = [_pixels(path) for path in sorted(folder.glob("live*.png"))]
        self._taken = self._shown = 0
        self._next = 0.0

    @property
    def identity(self) -> Identity:
        return Identity("ready", "ready", "Pictures that lie ready")

    @property
    def capabilities(self) -> Capabilities:
        return Capabilities(True, True, "")

    def open(self) -> None:
        cv2.setNumThreads(2)

    def close(self) -> None:
        pass

    def alive(self) -> None:
        pass

    def settings(self) -> list[Setting]:
        return []

    def capture(self) -> Taken:
        data = self._files[self._taken % len(self._files)]
        self._taken += 1
        return Taken((Original(data, "image/jpeg", "jpg", *self._size),), datetime.now(UTC), {})

    def live(self) -> LivePicture:
        now = time.monotonic()
        self._next = max(self._next + LIVE_EVERY_S, now)
        time.sleep(self._next - now)
        self._shown += 1
        return LivePicture(at=time.monotonic(), pixels=self._live[self._shown % len(self._live)])


def _pixels(path: Path) -> NDArray[np.uint8]:
    return np.asarray(cv2.imread(str(path)), dtype=np.uint8)


def main(folder: Path, pictures: Path) -> None:
    """Serve until SIGTERM."""
    clock = SystemClock()
    library = Library.open(folder, clock)
    camera = ReadyCamera(pictures)
    stage = Stage(library=library, clock=clock, make_camera=lambda _id: camera, camera="ready")
    desk = ExportDesk(folder / "exports", clock)
    service = create_app(stage, Gate(library, clock), desk, attached=list)
    serve_stage(service, stage, desk, library)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
