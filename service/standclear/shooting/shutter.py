"""One press, from the request to the kept exposure.

    press → (screens black) → owner takes → library keeps → "kept" → the watches look

One press at a time: a second one meanwhile is told that the camera is busy. What was taken is
announced only after it is kept. A picture that comes after its press was given up is not lost: it
goes into the shot's bin, and that is said.
"""

import logging
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Protocol

from standclear.cameras.base import CameraBusy, Taken
from standclear.errors import StandclearError
from standclear.library.records import Exposure
from standclear.shooting.darkroom import DarkRoom
from standclear.shooting.owner import CameraOwner
from standclear.shooting.pair import take_both

#: For how long no press may come before the shutter is said to rest.
STILL_S = 0.05
#: A step of long work waits for no more: a burst may last minutes, and a verdict has four steps.
STEP_WAITS_S = 0.3

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Press:
    """What is asked of the shutter.

    ``insert_after`` is an exposure's id or ``"start"``; ``replaces`` the exposure to retake;
    ``receipt`` the idempotency key under which each kept exposure is recorded, ``fingerprint``
    that of its request.
    """

    shot: str
    count: int = 1
    hold: int | None = None
    insert_after: str | None = None
    replaces: str | None = None
    receipt: str | None = None
    fingerprint: str = ""
    id: str = field(default_factory=lambda: uuid.uuid4().hex)


class Keeper(Protocol):
    """The part of the library that the shutter needs."""

    def check_place(
        self,
        shot_id: str,
        *,
        hold: int | None = None,
        insert_after: str | None = None,
        replaces: str | None = None,
    ) -> None: ...
    def make_sure_of_room(self, shot_id: str) -> None: ...
    def keep(
        self,
        shot_id: str,
        taken: Taken,
        *,
        camera: str,
        hold: int | None = None,
        insert_after: str | None = None,
        replaces: str | None = None,
        receipt: str | None = None,
        fingerprint: str = "",
    ) -> Exposure: ...
    def bin_exposure(
        self, shot_id: str, exposure_id: str, if_revision: int | None = None
    ) -> Exposure: ...


class Listener(Protocol):
    """Who is told what the shutter does."""

    def exposing(self, press: Press, expected_s: float) -> None: ...
    def exposed(self, press: Press, *, ok: bool) -> None: ...
    def kept(self, press: Press, exposure: Exposure) -> None: ...
    def failed(self, press: Press, error: StandclearError) -> None: ...
    def late(self, press: Press, exposure: Exposure) -> None: ...


class Shutter:
    """Takes pictures, one press after the other."""

    def __init__(
        self,
        *,
        owner: Callable[[], CameraOwner],
        library: Keeper,
        darkroom: DarkRoom,
        listener: Listener,
        second: Callable[[], CameraOwner | None] = lambda: None,
    ) -> None:
        """``second`` gives the camera that takes with the first, where there is one."""
        self._owner = owner
        self._second = second
        self._library = library
        self._darkroom = darkroom
        self._listener = listener
        self._one_press = threading.Lock()
        self._idle = threading.Condition()
        self._pressed = 0  # being carried out now
        self._presses = 0  # begun since the start
        self._rested_since = 0.0  # by the process's own clock

    def press(self, press: Press) -> list[Exposure]:
        """Take ``press.count`` pictures and keep them.

        Raises :class:`CameraBusy` while another press is carried out; otherwise what the camera or
        the library raises. What was kept before a failure stays kept.
        """
        with self._alone():
            return self._take(press)

    def series(self, press: Press) -> list[Taken]:
        """Take ``press.count`` pictures that are no part of the film; none is kept.

        Screens go dark as for any press. Raises as :meth:`press` does.
        """
        with self._alone():
            try:
                return [self._expose(press, film=False) for _ in range(press.count)]
            except StandclearError as error:
                self._listener.failed(press, error)
                raise

    def is_idle(self) -> bool:
        """Whether no press is being carried out (finishing works only then)."""
        return self._pressed == 0

    def wait_quiet(self, at_most_s: float = 2.0) -> bool:
        """Wait until the shutter has rested for a moment, but not for long: what follows costs
        time that a burst of presses needs. False when it did not come to rest."""
        end = time.monotonic() + at_most_s
        while time.monotonic() < end:
            if self._rests():
                return True
        return False

    def give_way(self) -> None:
        """For long work to call at each of its steps: waits as :meth:`wait_quiet` does, for less
        long, and not at all where no press was carried out of late."""
        if self._pressed or time.monotonic() - self._rested_since < STILL_S:
            self.wait_quiet(at_most_s=STEP_WAITS_S)

    def _rests(self) -> bool:
        """Whether no press is carried out now nor within the next moment."""
        with self._idle:
            if not self._idle.wait_for(lambda: self._pressed == 0, STILL_S):
                return False
            before = self._presses
            return not self._idle.wait_for(lambda: self._presses != before, STILL_S)

    def wait_idle(self, timeout: float) -> bool:
        """Wait until no press is being carried out (for a clean stop)."""
        with self._idle:
            return self._idle.wait_for(lambda: self._pressed == 0, timeout)

    @contextmanager
    def _alone(self) -> Iterator[None]:
        if not self._one_press.acquire(blocking=False):
            raise CameraBusy("Another picture is being taken.", retry_after=1)
        with self._idle:
            self._pressed += 1
            self._presses += 1
            self._idle.notify_all()
        try:
            yield
        finally:
            self._one_press.release()
            with self._idle:
                self._pressed -= 1
                self._rested_since = time.monotonic()
                self._idle.notify_all()

    def _take(self, press: Press) -> list[Exposure]:
        kept: list[Exposure] = []
        after = press.insert_after
        replaces = press.replaces
        for _ in range(press.count):
            try:
                exposure = self._one(press, after, replaces)
            except StandclearError as error:
                if kept:
                    error.extra["kept"] = [one.id for one in kept]
                self._listener.failed(press, error)
                raise
            kept.append(exposure)
            after = exposure.id if press.insert_after or press.replaces else None
            replaces = None
        return kept

    def _one(self, press: Press, after: str | None, replaces: str | None) -> Exposure:
        self._refuse_before_exposing(press.shot, after, replaces)
        taken = self._expose(press)
        exposure = self._library.keep(
            press.shot,
            taken,
            camera=self._owner().state().identity.label,
            hold=press.hold,
            insert_after=after,
            replaces=replaces,
            receipt=press.receipt,
            fingerprint=press.fingerprint,
        )
        self._listener.kept(press, exposure)
        return exposure

    def _expose(self, press: Press, *, film: bool = True) -> Taken:
        """Screens dark, shutter open, screens light. Late pictures of no film are let go."""
        shown = False

        def before(expected_s: float) -> None:
            nonlocal shown
            shown = True
            self._darkroom.begin(press.id)
            self._listener.exposing(press, expected_s)
            self._darkroom.wait()

        def stray(owner: CameraOwner, taken: Taken) -> None:
            if film:
                self._keep_late(press, taken, owner.state().identity.label)

        ok = False
        try:
            taken = self._capture(before, stray, film=film)
            ok = True
        finally:
            if shown:
                self._listener.exposed(press, ok=ok)
        return taken

    def _capture(
        self,
        before: Callable[[float], None],
        stray: Callable[[CameraOwner, Taken], None],
        *,
        film: bool,
    ) -> Taken:
        """With the camera in use; for the film with the second one, too."""
        owner, second = self._owner(), self._second()
        if second is None or not film:
            return owner.capture(before, lambda taken: stray(owner, taken), film=film)
        return take_both(owner, second, before, stray)

    def _refuse_before_exposing(self, shot: str, after: str | None, replaces: str | None) -> None:
        """Find out what would fail afterwards while nothing has been exposed yet."""
        self._library.check_place(shot, insert_after=after, replaces=replaces)
        self._library.make_sure_of_room(shot)

    def _keep_late(self, press: Press, taken: Taken, camera: str) -> None:
        """A picture came after its press was given up, or without its pair: keep it, but out of
        the film."""
        try:
            exposure = self._library.keep(press.shot, taken, camera=camera)
            self._library.bin_exposure(press.shot, exposure.id)
        except StandclearError as error:
            self._listener.failed(press, error)
        else:
            self._listener.late(press, exposure)
