"""The second copy in the making: what to carry next, and when to try again.

:meth:`Mirror.work` does one thing and says how long nothing is to be done after it. It sleeps
never and knows no thread: the clock is passed in, so that an hour without the place takes a test no
time. What waits is asked of the database each time (``library/copies.py``).
"""

import threading
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from standclear.clock import Clock
from standclear.errors import StandclearError
from standclear.library.copies import Copied, Copies, Lag
from standclear.library.library import SHOTS_FOLDER, Library
from standclear.library.mirror.carrying import Carrier
from standclear.library.mirror.failures import (
    CopyDiffers,
    CopyError,
    PlaceAway,
    PlaceStrange,
)
from standclear.library.mirror.identity import identity
from standclear.library.mirror.place import Mark, Place

FIRST_PAUSE_S, LONGEST_PAUSE_S = 2.0, 60.0
#: A journal is copied whole, so a long one is not copied for each of its lines.
JOURNAL_EVERY_S = 10.0
#: What differs is left alone for so long: somebody has to look at it.
DIFFERING_S = 600.0
BATCH = 20
PLACES = "mirror:places"

State = Literal["in_step", "copying", "away", "fault", "paused"]


@dataclass(frozen=True, slots=True)
class MirrorState:
    """How the second copy stands. ``lag_s`` is the age of the oldest exposure that waits."""

    where: str
    state: State
    says: str
    waiting_exposures: int
    waiting_bytes: int
    lag_s: float
    copied_exposures: int
    last_copied_at: datetime | None
    caution: str


SAME_DISK = (
    "This folder lies on the library's own disk: it guards against a slip of the hand, not against "
    "that disk's end."
)


class Mirror:
    """One library's second copy at one place. :meth:`work` is for one thread, the rest for any."""

    def __init__(self, library: Library, place: Place, clock: Clock) -> None:
        self._library = library
        self._copies: Copies = library.copies
        shots = library.folder / SHOTS_FOLDER
        self._carrier = Carrier(self._copies, shots, place, clock)
        self._place = place
        self._clock = clock
        self._lock = threading.Lock()
        self._paused = False
        self._may_begin = False
        self._trouble: StandclearError | None = None
        self._pause_s = 0.0
        self._not_before = float("-inf")
        self._journals_not_before = float("-inf")
        self._differing: dict[str, float] = {}
        self._key = str(self._known_places().get(place.address.shown, ""))

    # -- from any thread ---------------------------------------------------------------------

    def state(self) -> MirrorState:
        """How it stands now."""
        lag = self._copies.lag(self._key)
        trouble, paused = self._trouble, self._paused
        state = _state(lag, trouble, paused=paused)
        return MirrorState(
            where=self._place.address.shown,
            state=state,
            says=_says(state, lag, trouble),
            waiting_exposures=lag.exposures,
            waiting_bytes=lag.size,
            lag_s=self._age(lag.oldest),
            copied_exposures=lag.copied,
            last_copied_at=lag.last,
            caution=SAME_DISK if self._same_disk() else "",
        )

    def _same_disk(self) -> bool:
        folder = self._place.address.folder
        try:
            return folder is not None and folder.stat().st_dev == self._library.folder.stat().st_dev
        except OSError:
            return False

    def _age(self, since: datetime | None) -> float:
        """A clock that was set back makes nothing younger than now."""
        return max(0.0, (self._clock.now() - since).total_seconds()) if since else 0.0

    def pause(self, paused: bool) -> None:
        """Stop copying, or go on at once."""
        self._paused = paused
        self.retry()

    def retry(self) -> None:
        """Try at the next :meth:`work`, whatever was said before."""
        with self._lock:
            self._not_before = self._journals_not_before = float("-inf")
            self._pause_s = 0.0
            self._differing.clear()

    def begin_anew(self) -> None:
        """Take what lies at the address now for the place, be it another disk than before."""
        self._may_begin = True
        self.retry()

    # -- the thread's own --------------------------------------------------------------------

    def work(self) -> float | None:
        """Do one thing. Seconds until there is more to do: 0 at once, ``None`` not before news."""
        if self._paused:
            return None
        left = self._not_before - self._clock.monotonic()
        if left > 0:
            return left
        try:
            again = self._one_thing()
        except FileNotFoundError:
            return self._failed(PlaceAway(f"{self._place.address.shown} is not there any more."))
        except StandclearError as error:
            return self._failed(error)
        self._pause_s = 0.0
        if not self._differing:
            self._trouble = None
        return again

    def finish(self) -> None:
        """Carry what is left of the journals before leaving; no error when that fails."""
        self._journals_not_before = float("-inf")
        if not self._paused and self._trouble is None:
            self.work()

    def unforeseen(self) -> float:
        """What speaks with the place failed in a way that nobody foresaw; tried again as any."""
        return self._failed(
            CopyError(f"Copying to {self._place.address.shown} failed; see the service's log.")
        )

    def _failed(self, error: StandclearError) -> float:
        with self._lock:
            self._trouble = error
            self._place.leave()
            self._pause_s = min(LONGEST_PAUSE_S, self._pause_s * 2 or FIRST_PAUSE_S)
            self._not_before = self._clock.monotonic() + self._pause_s
            return self._pause_s

    def _one_thing(self) -> float | None:
        key = self._greeted()
        original = self._next(key)
        if original is not None:
            return self._carry(key, original)
        gone = self._copies.gone(key)
        for copy in gone[:BATCH]:
            self._place.remove(f"{SHOTS_FOLDER}/{copy.name}")
            self._copies.forget(key, [copy.id])
        return 0.0 if gone else self._carry_journals(key)

    def _next(self, key: str) -> Copied | None:
        now = self._clock.monotonic()
        put_off = {one for one, until in self._differing.items() if until > now}
        waiting = self._copies.waiting(key, BATCH + len(put_off))
        return next((one for one in waiting if one.id not in put_off), None)

    def _carry(self, key: str, original: Copied) -> float:
        try:
            self._carrier.original(key, original)
        except CopyDiffers as error:
            # One picture that cannot be copied must not keep the others waiting.
            self._differing[original.id] = self._clock.monotonic() + DIFFERING_S
            self._trouble = error
        else:
            self._differing.pop(original.id, None)
        return 0.0

    def _carry_journals(self, key: str) -> float | None:
        behind = self._copies.journals_behind(key)
        if not behind:
            return None
        left = self._journals_not_before - self._clock.monotonic()
        if left > 0:
            return left
        for journal in behind:
            self._carrier.journal(key, journal)
        self._journals_not_before = self._clock.monotonic() + JOURNAL_EVERY_S
        return JOURNAL_EVERY_S

    # -- which place it is -------------------------------------------------------------------

    def _greeted(self) -> str:
        """The id of the place, asked of it before each thing that is done there."""
        ours = identity(self._library.folder)
        mark = self._place.mark()
        if mark is not None and mark.library != ours:
            raise PlaceStrange(
                f"{self._place.address.shown} holds the copy of another library. "
                "Choose an empty folder for this one."
            )
        if mark is None or mark.place != self._key:
            mark = self._met(mark, ours)
        self._key = mark.place
        return mark.place

    def _met(self, mark: Mark | None, ours: str) -> Mark:
        """A place that bears no mark, or another than before."""
        if mark is None and self._key and not self._may_begin:
            raise PlaceStrange(
                f"{self._place.address.shown} is there, but the copy that was begun in it is not: "
                "perhaps its disk is not plugged in. To begin a new copy there, say so under Rig."
            )
        mark = mark or self._place.begin(ours)
        known = {**self._known_places(), self._place.address.shown: mark.place}
        self._library.put_setting(PLACES, known)
        self._may_begin = False
        return mark

    def _known_places(self) -> dict[str, str]:
        return dict(self._library.setting(PLACES) or {})


def _state(lag: Lag, trouble: StandclearError | None, *, paused: bool) -> State:
    if paused:
        return "paused"
    if trouble is not None:
        return "away" if isinstance(trouble, PlaceAway) else "fault"
    return "copying" if lag.exposures else "in_step"


def _says(state: State, lag: Lag, trouble: StandclearError | None) -> str:
    waiting = f"{lag.exposures} exposure{'' if lag.exposures == 1 else 's'}"
    behind = f"{waiting} not copied yet."
    if state == "paused":
        return f"Paused. {behind}"
    if trouble is not None:
        return f"{trouble.detail} {behind}" if lag.exposures else trouble.detail
    if state == "copying":
        return behind
    return f"Every exposure is copied and read back: {lag.copied}."
