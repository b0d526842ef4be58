"""A toy camera for tests of everything above the drivers: quick, and it does what it is told."""

import threading
import time
from collections.abc import Mapping
from datetime import UTC, datetime

import numpy as np

from standclear.cameras.base import (
    Camera,
    CameraAway,
    Capabilities,
    CaptureFailed,
    Identity,
    LivePicture,
    NotOffered,
    Original,
    Setting,
    Status,
    Taken,
)
from tests.pictures import jpeg

SIZE = (320, 180)


class ToyCamera(Camera):
    """Each capture gives another JPEG; ``sent`` keeps their bytes in order."""

    kind = "toy"

    def __init__(self, *, live: bool = True) -> None:
        self.sent: list[bytes] = []
        self.plugged = True
        self.answer = threading.Event()  # cleared: the camera hangs
        self.answer.set()
        self.fail_next: CaptureFailed | None = None
        self.shutter = "1/50"
        self.iso = "auto"
        self._live = live

    @property
    def identity(self) -> Identity:
        return Identity("toy", "toy", "Toy camera")

    @property
    def capabilities(self) -> Capabilities:
        return Capabilities(self._live, True, "" if self._live else "The toy has no live picture.")

    def open(self) -> None:
        self.alive()

    def close(self) -> None:
        pass

    def alive(self) -> None:
        if not self.plugged:
            raise CameraAway("The cable is out.")

    def capture(self) -> Taken:
        self.alive()
        self.answer.wait(30)
        if self.fail_next is not None:
            error, self.fail_next = self.fail_next, None
            raise error
        data = jpeg(*SIZE, seed=len(self.sent))
        self.sent.append(data)
        original = Original(data, "image/jpeg", "jpg", *SIZE)
        return Taken((original,), datetime.now(UTC), {"shutter": self.shutter})

    def live(self) -> LivePicture:
        self.alive()
        threading.Event().wait(1 / 60)
        return LivePicture(at=time.monotonic(), pixels=np.zeros((180, 320, 3), np.uint8))

    def settings(self) -> list[Setting]:
        return [
            Setting("shutter", "Shutter", self.shutter, ("1/25", "1/50"), automatic=False),
            Setting("iso", "ISO", self.iso, ("auto", "100"), automatic=self.iso == "auto"),
        ]

    def change(self, values: Mapping[str, str]) -> None:
        for name, value in values.items():
            if name not in ("shutter", "iso"):
                raise NotOffered(f"The toy has no setting called {name}.")
            setattr(self, name, value)

    def status(self) -> Status:
        return Status(battery_percent=70, free_pictures=100)
