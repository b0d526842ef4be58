"""Where the watches look at what was kept: one thread of its own, after the picture is safe.

A verdict can never lose or delay a picture: the shutter only leaves a note here. A watch that
fails is reported as such. Each shot's watch is rebuilt from the shot's own exposures when it is
needed again: first its reference, then the last few, so that a restart forgets nothing.

What is kept with the shot: the exposure that is its reference, and its thresholds.
"""

import logging
import queue
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from typing import Any

from standclear.errors import Invalid, NotFound, StandclearError
from standclear.library.library import Library
from standclear.library.records import Exposure
from standclear.shooting.shutter import Shutter
from standclear.shooting.watches.shot_watch import ShotWatch
from standclear.shooting.watches.table import nothing_told
from standclear.shooting.watches.thresholds import Noise, Thresholds

log = logging.getLogger(__name__)

Tell = Callable[[str, Mapping[str, Any]], object]

KEPT_WATCHES = 2  # some 200 MB each at 24 megapixels
LEAVE_S = 0.3
REMEMBERED = 12  # exposures looked at again when a watch is rebuilt


class WatchRoom:
    """Examines kept exposures one after the other and tells the verdicts."""

    def __init__(self, library: Library, tell: Tell, shutter: Shutter) -> None:
        """Looking gives way to the ``shutter``: it must not slow a press."""
        self._library = library
        self._tell = tell
        self._shutter = shutter
        self._notes: queue.Queue[tuple[str, str] | None] = queue.Queue()
        self._watches: OrderedDict[str, ShotWatch] = OrderedDict()  # the thread's own
        self._lock = threading.Lock()  # for what follows; held for moments only
        self._stale: set[str] = set()
        self._forgotten: dict[str, set[str]] = {}
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="watches", daemon=True)
        self._thread.start()

    # -- from outside ------------------------------------------------------------------------

    def look_at(self, shot: str, exposure: str) -> None:
        """Leave a note that an exposure was kept; returns at once."""
        self._notes.put((shot, exposure))

    def changed(self, shot: str) -> None:
        """The shot's order was edited: its watch is rebuilt before it looks again."""
        with self._lock:
            self._stale.add(shot)

    def forget(self, shot: str, exposure: str) -> None:
        """The exposure was binned or retaken: it no longer counts as what came before."""
        reference = self.reference(shot)
        with self._lock:
            if reference is None or reference.id == exposure:
                self._stale.add(shot)
            self._forgotten.setdefault(shot, set()).add(exposure)

    def accept(self, shot: str, exposure: str) -> Exposure:
        """From here on this exposure is the shot's reference: the change was meant."""
        found = self._library.exposure(shot, exposure)
        self._library.put_setting(f"reference:{shot}", exposure)
        self.changed(shot)
        verdict = dict(found.verdict or nothing_told("Accepted as the shot's reference."))
        verdict = {**verdict, "accepted": True}
        kept = self._library.put_verdict(exposure, verdict)
        self._tell("verdict", {"shot": shot, "exposure": exposure, "verdict": verdict})
        return kept

    def reference(self, shot: str) -> Exposure | None:
        """The exposure that the shot is measured against."""
        chosen = self._library.setting(f"reference:{shot}")
        if chosen:
            try:
                found = self._library.exposure(shot, chosen)
                if found.number is not None:
                    return found
            except NotFound:
                log.info("the reference %s is gone; the first exposure takes its place", chosen)
        page = self._library.exposures(shot, limit=1)
        return page.items[0] if page.items else None

    def thresholds(self, shot: str) -> Thresholds:
        """The shot's thresholds, each in the unit of its figure: as set by hand, else from the
        noise that its steady test measured, else the defaults."""
        return thresholds_of(self._library, shot)

    def set_thresholds(self, shot: str, values: Mapping[str, float | None]) -> Thresholds:
        """Change thresholds by name, ``None`` back to what the steady test or the default says.

        Raises :class:`Invalid`, naming what does not fit.
        """
        self._library.shot(shot)
        known = {field.name for field in fields(Thresholds)}
        for name, value in values.items():
            if name not in known:
                raise Invalid(f"There is no threshold called {name[:64]}.")
            if value is not None and not 0 < value < 1e4:
                raise Invalid(f"{name} must be larger than 0 and less than 10000.")
        with self._lock:
            stored = {**(self._library.setting(f"thresholds:{shot}") or {}), **values}
            kept = {name: value for name, value in stored.items() if value is not None}
            self._library.put_setting(f"thresholds:{shot}", kept)
            self._stale.add(shot)
        return self.thresholds(shot)

    def stop(self) -> None:
        """End soon. What was not looked at has no verdict; `standclear check SHOT` makes it."""
        self._stopping.set()
        self._notes.put(None)
        self._thread.join(timeout=LEAVE_S)

    # -- the thread --------------------------------------------------------------------------

    def _run(self) -> None:
        while (note := self._notes.get()) is not None:
            shot, exposure = note
            self._shutter.wait_quiet()
            if self._stopping.is_set():
                return
            try:
                verdict = self._examine(shot, exposure)
                self._library.put_verdict(exposure, verdict)
            except StandclearError as error:
                log.info("no verdict on %s: %s", exposure, error.detail)
                continue
            self._tell("verdict", {"shot": shot, "exposure": exposure, "verdict": verdict})

    def _examine(self, shot: str, exposure: str) -> dict[str, Any]:
        found = self._library.exposure(shot, exposure)
        try:
            return self._look(self._watch(shot, found), found)
        except StandclearError:
            raise
        except Exception:
            # Whatever a measurement did, the picture is kept and the animator must know that
            # nobody looked at it. The next exposure starts with a watch made anew.
            log.exception("the watches failed on %s", exposure)
            self._watches.pop(shot, None)
            return nothing_told("The watches failed on this picture; see the service's log.")

    def _look(self, watch: ShotWatch, exposure: Exposure) -> dict[str, Any]:
        path = self._library.original_path(exposure.shot_id, exposure.id)
        return watch.examine_file(path.read_bytes(), key=exposure.id, settings=exposure.settings)

    def _watch(self, shot: str, looking_at: Exposure) -> ShotWatch:
        """The shot's watch, rebuilt if it is not at hand."""
        with self._lock:
            stale = shot in self._stale
            self._stale.discard(shot)
            forgotten = self._forgotten.pop(shot, set())
        watch = self._watches.get(shot)
        if watch is None or stale:
            watch = self._rebuilt(shot, looking_at)
            self._watches[shot] = watch
        for exposure in forgotten:
            watch.forget(exposure)
        self._watches.move_to_end(shot)
        while len(self._watches) > KEPT_WATCHES:
            self._watches.popitem(last=False)
        return watch

    def _rebuilt(self, shot: str, looking_at: Exposure) -> ShotWatch:
        watch = ShotWatch(self.thresholds(shot), give_way=self._shutter.give_way)
        reference = self.reference(shot)
        if reference is None or reference.id == looking_at.id:
            return watch
        self._look(watch, reference)
        place = looking_at.number or 1
        start = max(reference.number or 1, place - 1 - REMEMBERED)
        cursor = f"{start + 1}."  # the list's own cursor, of an exposure that need not be there
        page = self._library.exposures(shot, after=cursor, limit=REMEMBERED)
        for exposure in page.items:
            if exposure.number is not None and exposure.number < place:
                self._look(watch, exposure)
        return watch


def thresholds_of(library: Library, shot: str) -> Thresholds:
    """The thresholds kept with a shot, over those that its steady test's noise asks for."""
    stored = library.setting(f"thresholds:{shot}") or {}
    noise = (library.setting(f"steady:{shot}") or {}).get("noise") or {}
    fitted = Thresholds().fitted_to(Noise(**_known(Noise, noise)))
    return replace(fitted, **_known(Thresholds, stored))


def _known(kind: type[Noise | Thresholds], values: Mapping[str, Any]) -> dict[str, float]:
    """The values whose names the class has: another version may have kept others."""
    names = {field.name for field in fields(kind)}
    return {name: float(value) for name, value in values.items() if name in names}
