"""Rebuilds the database from the shots' folders; what was there is moved aside, never deleted.

The new database is made beside the old one and takes its name only when it is complete, so that
recovering can be broken off and begun again.
"""

from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any
from uuid import uuid4

from sqlalchemy import Connection, insert

from standclear.clock import Clock
from standclear.library import migrate, naming
from standclear.library.database import Database
from standclear.library.disk import Disk
from standclear.library.failures import LibraryDamaged, told_as_storage
from standclear.library.library import DATABASE_FILE, SHOTS_FOLDER
from standclear.library.lock import Lock
from standclear.library.salvage import Salvaged, salvage
from standclear.library.schema import ExposureRow, OriginalRow, ShotRow

NEW_DATABASE = "library.recovering.db"
_BESIDE = ("", "-wal", "-shm", "-journal")
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class RecoverReport:
    """What was rebuilt. Names are ``<shot folder>/<file>``; ``moved_aside`` is the old database."""

    shots: int
    exposures: int
    originals: int
    appended: tuple[str, ...]
    altered: tuple[str, ...]
    missing: tuple[str, ...]
    lines_passed_over: int
    moved_aside: Path | None


def recover(folder: Path, clock: Clock, progress: Progress | None = None) -> RecoverReport:
    """Rebuild the library in ``folder``; no service may run on it meanwhile.

    Order, holds, notes, rates, plans and verdicts come from the journals. Undo steps, paired
    remotes and settings are lost. ``progress`` is called with (done, all) shots.
    Raises ``library_in_use``, ``library_read_only``, ``disk_full``.
    """
    if not (folder / SHOTS_FOLDER).is_dir():
        raise LibraryDamaged(f"There is no folder {SHOTS_FOLDER!r} in {folder}: no library here.")
    lock = Lock(folder)
    try:
        with told_as_storage("recovering"):
            return _recover(folder, clock, progress)
    finally:
        lock.release()


def _recover(folder: Path, clock: Clock, progress: Progress | None) -> RecoverReport:
    now = clock.now()
    new = folder / NEW_DATABASE
    for ending in _BESIDE:
        Path(f"{new}{ending}").unlink(missing_ok=True)
    migrate.make(new)
    found = list(_salvaged(folder / SHOTS_FOLDER, now, progress))
    database = Database(new, Disk())
    try:
        with database.write("recovering") as write:
            for shot in found:
                _insert(write.connection, shot)
    finally:
        database.close()
    aside = _move_aside(folder, now)
    new.rename(folder / DATABASE_FILE)
    Disk().fsync_dir(folder)
    return _report(found, aside)


def _salvaged(shots: Path, now: datetime, progress: Progress | None) -> Iterator[Salvaged]:
    places = sorted(entry for entry in shots.iterdir() if entry.is_dir())
    used: set[int] = set()
    seen: set[str] = set()
    for done, place in enumerate(places, 1):
        parts = naming.folder_parts(place.name)
        serial = parts[0] if parts and parts[0] not in used else max(used, default=0) + 1
        used.add(serial)
        found = salvage(place, serial, now)
        _use_ids_once(found, seen)
        yield found
        if progress:
            progress(done, len(places))


def _use_ids_once(found: Salvaged, seen: set[str]) -> None:
    """A folder that was copied brings the same ids again: the copy gets new ones."""
    originals = [original for exposure in found.exposures for original in exposure["originals"]]
    for columns in (found.shot, *found.exposures, *originals):
        if columns["id"] in seen:
            columns["id"] = uuid4().hex
        seen.add(columns["id"])


def _insert(c: Connection, found: Salvaged) -> None:
    c.execute(insert(ShotRow), found.shot)
    for exposure in found.exposures:
        columns: dict[str, Any] = {**exposure, "shot_id": found.shot["id"]}
        originals = columns.pop("originals")
        c.execute(insert(ExposureRow), columns)
        for position, original in enumerate(originals):
            beside = {"exposure_id": columns["id"], "position": position}
            c.execute(insert(OriginalRow), original | beside)


def _move_aside(folder: Path, now: datetime) -> Path | None:
    aside = folder / f"library.{now:%Y%m%dT%H%M%S%f}.aside.db"
    moved = None
    for ending in _BESIDE:
        with suppress(FileNotFoundError):
            (folder / f"{DATABASE_FILE}{ending}").rename(f"{aside}{ending}")
            moved = moved or aside
    return moved


def _report(found: list[Salvaged], aside: Path | None) -> RecoverReport:
    def named(kind: str) -> tuple[str, ...]:
        return tuple(f"{shot.shot['folder']}/{n}" for shot in found for n in getattr(shot, kind))

    exposures = [exposure for shot in found for exposure in shot.exposures]
    return RecoverReport(
        shots=len(found),
        exposures=len(exposures),
        originals=sum(len(exposure["originals"]) for exposure in exposures),
        appended=named("appended"),
        altered=named("altered"),
        missing=named("missing"),
        lines_passed_over=sum(shot.passed_over for shot in found),
        moved_aside=aside,
    )
