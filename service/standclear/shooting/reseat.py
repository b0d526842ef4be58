"""The re-seat guide: leads a hand until the live picture lies on the shot's reference again.

A thread of its own follows the live pictures that somebody watches, measures the newest one up to
ten times a second, and tells. It fetches no picture itself, so it ends when nobody has looked
for ten seconds.
"""

import logging
import threading
from collections.abc import Callable, Mapping
from typing import Any

from standclear.clock import Clock
from standclear.errors import CallerError
from standclear.imaging.decode import Decoded, decode
from standclear.library.library import Library
from standclear.library.records import Exposure
from standclear.shooting.live import LiveHub
from standclear.shooting.seat import Seating

log = logging.getLogger(__name__)

EVERY_S = 0.1
ALONE_S = 10.0


class NothingToSeatBy(CallerError):
    """The shot has no reference that could be measured against."""

    code = "no_reference"
    status = 409
    title = "There is nothing to seat the camera by"
    hint = "Take the shot's first exposure; it becomes the reference."


class ReseatGuide:
    """Guides for one shot at a time."""

    def __init__(
        self,
        *,
        library: Library,
        live: LiveHub,
        clock: Clock,
        reference: Callable[[str], Exposure | None],
        tell: Callable[[str, Mapping[str, Any]], object],
    ) -> None:
        self._library = library
        self._live = live
        self._clock = clock
        self._reference = reference
        self._tell = tell
        self._lock = threading.Lock()
        self._ending = threading.Event()
        self._thread: threading.Thread | None = None
        self._state: dict[str, Any] = {"shot": None, "on": False, "says": ""}

    def state(self) -> dict[str, Any]:
        """The last thing told."""
        return dict(self._state)

    def start(self, shot: str) -> dict[str, Any]:
        """Begin to guide. Raises :class:`NotFound`, :class:`NothingToSeatBy`."""
        seating = self._seating(shot)
        self.stop("")
        with self._lock:
            self._ending = threading.Event()
            self._state = {"shot": shot, "on": True, "says": "Waiting for a live picture."}
            self._thread = threading.Thread(
                target=self._run, args=(shot, seating, self._ending), name="re-seat", daemon=True
            )
            self._thread.start()
        return self.state()

    def stop(self, says: str = "The guide is off.") -> dict[str, Any]:
        """End; returns once the thread is gone."""
        with self._lock:
            thread, self._thread = self._thread, None
            self._ending.set()
        if thread is not None:
            thread.join(timeout=5)
            if self._state["on"]:
                self._say({"shot": self._state["shot"], "on": False, "says": says})
        return self.state()

    def _seating(self, shot: str) -> Seating:
        self._library.shot(shot)
        found = self._reference(shot)
        if found is None:
            raise NothingToSeatBy("The shot has no exposure yet.")
        picture = decode(self._library.original_path(shot, found.id).read_bytes())
        if not isinstance(picture, Decoded):
            raise NothingToSeatBy(picture.says)
        return Seating(picture.pixels, picture.width, picture.height)

    def _say(self, told: dict[str, Any]) -> None:
        self._state = told
        self._tell("reseat", told)

    def _run(self, shot: str, seating: Seating, ending: threading.Event) -> None:
        seen, watched_at = 0, self._clock.monotonic()
        while not ending.is_set() and not self._live.closed:
            begun = self._clock.monotonic()
            if self._live.watched:
                watched_at = begun
            elif begun - watched_at > ALONE_S:
                self._say({"shot": shot, "on": False, "says": "Nobody looked; the guide is off."})
                return
            frame = self._live.newer_than(seen, EVERY_S)
            if frame is not None:
                seen = frame.seq
                seat = self._measured(seating, frame.pixels)
                if not ending.is_set():
                    self._say({"shot": shot, "on": True, **seat})
            ending.wait(max(0.0, EVERY_S - (self._clock.monotonic() - begun)))

    def _measured(self, seating: Seating, pixels: Callable[[], Any]) -> dict[str, Any]:
        try:
            return seating.measure(pixels()).as_dict()
        except (ValueError, ArithmeticError) as error:
            log.info("no seat from this live picture: %s", error)
            return {"known": False, "within": False, "says": "This live picture cannot be read."}
