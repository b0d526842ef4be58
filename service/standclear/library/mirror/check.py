"""Reads every file of a second copy again and holds it against the library's record."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from standclear.clock import Clock
from standclear.library.copies import CopiedJournal, Copies
from standclear.library.database import Database
from standclear.library.disk import Disk
from standclear.library.failures import told_as_storage
from standclear.library.journal import JOURNAL_FILE
from standclear.library.library import DATABASE_FILE, SHOTS_FOLDER
from standclear.library.migrate import must_be_current
from standclear.library.mirror.failures import PlaceAway, PlaceStrange
from standclear.library.mirror.identity import identity
from standclear.library.mirror.place import Place

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class CopyReport:
    """What was found at ``where``; names are ``<shot folder>/<file>``. ``waiting`` counts
    exposures that are not copied yet, which is no fault of the copy."""

    where: str
    originals: int
    size: int
    altered: tuple[str, ...]
    missing: tuple[str, ...]
    waiting: int

    @property
    def well(self) -> bool:
        """Whether all that was copied is there, byte for byte."""
        return not (self.altered or self.missing)


def check_copy_of(
    folder: Path, place: Place, clock: Clock, progress: Progress | None = None
) -> CopyReport:
    """Check the copy that ``place`` holds of the library in ``folder``, which may be in use.

    What is not well there is copied again by the next service that has this place. Raises kinds of
    :class:`CopyError` and :class:`StorageError`.
    """
    with told_as_storage("checking"):
        must_be_current(folder / DATABASE_FILE)
        database = Database(folder / DATABASE_FILE, Disk())
    try:
        mark = place.mark()
        if mark is not None and mark.library != identity(folder):
            raise PlaceStrange(f"{place.address.shown} holds the copy of another library.")
        return check_copy(Copies(database, clock), place, progress)
    finally:
        database.close()


def check_copy(copies: Copies, place: Place, progress: Progress | None = None) -> CopyReport:
    """The same, for records that are open."""
    mark = place.mark()
    if mark is None:
        raise PlaceAway(f"There is no second copy at {place.address.shown}.")
    held, journals = copies.held(mark.place), copies.journals(mark.place)
    altered: list[str] = []
    missing: list[str] = []
    again: list[str] = []
    for done, copy in enumerate(held, 1):
        found = _sha256(place, f"{SHOTS_FOLDER}/{copy.name}")
        if found != copy.sha256:
            (missing if found is None else altered).append(copy.name)
            again.append(copy.id)
        if progress:
            progress(done, len(held))
    for journal in journals:
        fault = _journal_fault(copies, place, mark.place, journal)
        if fault:
            name = f"{journal.folder}/{JOURNAL_FILE}"
            (missing if fault == "missing" else altered).append(name)
    if again:
        copies.forget(mark.place, again)
    return CopyReport(
        where=place.address.shown,
        originals=len(held),
        size=sum(copy.size for copy in held),
        altered=tuple(altered),
        missing=tuple(missing),
        waiting=copies.lag(mark.place).exposures - len(again),
    )


def _sha256(place: Place, name: str) -> str | None:
    try:
        return place.sha256(name)
    except FileNotFoundError:
        return None


def _journal_fault(copies: Copies, place: Place, key: str, known: CopiedJournal) -> str | None:
    if not known.size:
        return None  # not copied yet
    found = _sha256(place, f"{SHOTS_FOLDER}/{known.folder}/{JOURNAL_FILE}")
    if found == known.sha256:
        return None
    # A running service may have brought it up to date meanwhile.
    now = next((one for one in copies.journals(key) if one.shot == known.shot), known)
    if now != known:
        return _journal_fault(copies, place, key, now)
    copies.journal_verified(key, CopiedJournal(known.shot, known.folder))
    return "missing" if found is None else "altered"
