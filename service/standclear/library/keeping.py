"""Keeping an exposure: the way of one picture from the camera's bytes to the record.

When :meth:`Keeper.keep` returns, files and folder are flushed and the row is committed (promise 1).
Pictures of one shot are kept one after the other, so that names, places and the order of taking
agree. A picture is never refused because its neighbour went to the bin meanwhile: it then goes to
the end of the shot.
"""

import secrets
import shutil
import threading
from collections import defaultdict
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, fields, replace
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, bindparam, func, insert, select, update
from sqlalchemy.dialects import sqlite

from standclear.cameras.base import Taken
from standclear.clock import Clock
from standclear.errors import Conflict, StandclearError
from standclear.library import naming, rows, values
from standclear.library.chronicle import described
from standclear.library.database import Database
from standclear.library.editor import Editor
from standclear.library.failures import DiskFull, told_as_storage
from standclear.library.records import Exposure, OriginalFile
from standclear.library.schema import (
    ExposureRow,
    OriginalRow,
    ReceiptExposureRow,
    ReceiptRow,
    ShotRow,
)
from standclear.library.steps import Step
from standclear.library.store import Store, Stored

START = "start"
ROOM_FOR_RECORD = 1_000_000  # bytes: database, journal and preview grow with a picture
_LENGTH = select(ShotRow.exposure_count).where(ShotRow.id == bindparam("which"))
_COUNT_ON = (
    update(ShotRow)
    .where(ShotRow.id == bindparam("which"))
    .values(next_serial=bindparam("upcoming"))
)
_LAST_SIZE = (
    select(func.sum(OriginalRow.size))
    .join(ExposureRow, ExposureRow.id == OriginalRow.exposure_id)
    .where(ExposureRow.shot_id == bindparam("which"))
    .group_by(ExposureRow.serial)
    .order_by(ExposureRow.serial.desc())
    .limit(1)
)
_ADD = insert(ExposureRow)
_ADD_ORIGINAL = insert(OriginalRow)


@dataclass(frozen=True, slots=True)
class Wish:
    """Where a new exposure is to go, for how long it is held, and the key it was asked under."""

    hold: int | None = None
    insert_after: str | None = None
    replaces: str | None = None
    receipt: str | None = None
    fingerprint: str = ""


class Keeper:
    """Keeps exposures; one per library."""

    def __init__(self, database: Database, store: Store, editor: Editor, clock: Clock) -> None:
        self._database = database
        self._store = store
        self._editor = editor
        self._clock = clock
        self._locks: defaultdict[str, threading.Lock] = defaultdict(threading.Lock)
        self._locks_guard = threading.Lock()

    def check(self, shot_id: str, wish: Wish) -> None:
        """Whether a picture can be kept so; asked before the shutter is opened."""
        if wish.hold is not None:
            values.hold(wish.hold)
        if wish.insert_after is not None and wish.replaces is not None:
            raise values.refuse("replaces", "Either insert_after or replaces, not both.")
        with self._database.read() as c:
            rows.shot_row(c, shot_id)
            for anchor in (wish.insert_after, wish.replaces):
                if anchor is None or (anchor == START and anchor == wish.insert_after):
                    continue
                if rows.exposure_row(c, shot_id, anchor).number is None:
                    raise Conflict(f"Exposure {anchor} is in the bin; restore it first.")

    def make_sure_of_room(self, shot_id: str) -> None:
        """Refuse before the shutter opens what would fail after it: room for the shot's last
        picture twice over, and for the record."""
        with self._database.read() as c:
            last = c.scalar(_LAST_SIZE, {"which": shot_id})
        with told_as_storage("the picture"):
            free = shutil.disk_usage(self._store.shots).free
        if free < 2 * (last or 0) + ROOM_FOR_RECORD:
            raise DiskFull(
                f"Only {free / 1e6:.0f} MB are free on the library's disk; nothing was exposed."
            )

    def keep(self, shot_id: str, taken: Taken, camera: str, wish: Wish) -> Exposure:
        """Store the originals, record them, put the exposure into the shot."""
        if not taken.originals or not all(original.data for original in taken.originals):
            raise values.refuse("originals", "The camera gave no bytes; there is nothing to keep.")
        if wish.hold is not None:
            values.hold(wish.hold)
        with self._lock(shot_id):
            shot = self._known(shot_id, wish)
            serial, names = self._free_names(shot, taken)
            with told_as_storage("the picture"):
                stored = self._store.write(shot.folder, names, taken.originals)
            new = _New(secrets.token_hex(8), serial, camera, taken, stored)
            try:
                return self._record(shot, new, wish)
            except StandclearError:
                self._set_aside_unrecorded(shot, names)
                raise

    def _known(self, shot_id: str, wish: Wish) -> Row[Any]:
        """The shot; raises :class:`NotFound` for it and for neighbours that never were in it."""
        with self._database.read() as c:
            shot = rows.plain_shot_row(c, shot_id)
            for anchor in {wish.insert_after, wish.replaces} - {None, START}:
                rows.exposure_row(c, shot_id, str(anchor))
        return shot

    def _lock(self, shot_id: str) -> threading.Lock:
        with self._locks_guard:
            return self._locks[shot_id]

    def _free_names(self, shot: Row[Any], taken: Taken) -> tuple[int, list[str]]:
        serial = shot.next_serial
        extensions = [original.extension for original in taken.originals]
        names = naming.original_names(shot.stem, serial, extensions)
        while self._store.taken(shot.folder, names):
            serial += 1
            names = naming.original_names(shot.stem, serial, extensions)
        return serial, names

    def _record(self, shot: Row[Any], new: "_New", wish: Wish) -> Exposure:
        with self._database.write("the picture's record") as write:
            c = write.connection
            place = _place(c, shot.id, wish)
            columns = self._columns(shot, new, wish.hold or place.hold)
            originals = _originals(new)
            c.execute(_ADD, columns)
            c.execute(
                _ADD_ORIGINAL, [_original_columns(new, i, o) for i, o in enumerate(originals)]
            )
            c.execute(_COUNT_ON, {"which": shot.id, "upcoming": new.serial + 1})
            if wish.receipt is not None:
                _note_on_receipt(c, wish.receipt, wish.fingerprint, self._clock.now(), new.id)
            record = _record(columns, originals)
            self._editor.edit(
                write,
                shot.id,
                says=place.says,
                forward=[*place.first, ["insert", new.id, place.number]],
                backward=[["remove", new.id], *place.last_back],
                also={"exposure": described(record, new.serial)},
            )
        return replace(record, number=place.number, revision=1)

    def _columns(self, shot: Row[Any], new: "_New", hold: int) -> dict[str, Any]:
        return {
            "id": new.id,
            "shot_id": shot.id,
            "serial": new.serial,
            "number": None,
            "last_number": 0,
            "hold": hold,
            "note": "",
            "taken_at": new.taken.taken_at,
            "kept_at": self._clock.now(),
            # A label read from a cable may hold bytes that are no text.
            "camera": new.camera.encode(errors="replace").decode(),
            "settings": dict(new.taken.settings),
            "verdict": None,
            "pair": None if new.taken.pair is None else asdict(new.taken.pair),
            "revision": 0,
            "binned_at": None,
        }

    def _set_aside_unrecorded(self, shot: Row[Any], names: Sequence[str]) -> None:
        """A commit that failed left no record, as far as can be told; else opening finds out."""
        with suppress(StandclearError):
            with self._database.read() as c:
                recorded = c.scalar(
                    select(func.count())
                    .select_from(OriginalRow)
                    .join(ExposureRow, ExposureRow.id == OriginalRow.exposure_id)
                    .where(ExposureRow.shot_id == shot.id, OriginalRow.name.in_(names))
                )
            if not recorded:
                self._store.set_aside(shot.folder, names)


@dataclass(frozen=True, slots=True)
class _New:
    """An exposure whose files are whole on disk, not yet recorded."""

    id: str
    serial: int
    camera: str
    taken: Taken
    stored: Sequence[Stored]


@dataclass(frozen=True, slots=True)
class _Place:
    """Where it goes: its number and hold, what is done before, what follows when undone."""

    number: int
    says: str
    hold: int = 1
    first: tuple[Step, ...] = ()
    last_back: tuple[Step, ...] = ()


def _place(c: Connection, shot_id: str, wish: Wish) -> _Place:
    end = (c.scalar(_LENGTH, {"which": shot_id}) or 0) + 1
    if wish.replaces is not None:
        old = rows.exposure_row(c, shot_id, wish.replaces)
        if old.number is not None:
            return _Place(
                number=old.number,
                says=f"retake exposure {old.number}",
                hold=old.hold,
                first=(["remove", old.id],),
                last_back=(["insert", old.id, old.number],),
            )
    if wish.insert_after == START:
        return _Place(number=1, says="insert exposure 1")
    if wish.insert_after is not None:
        number = rows.exposure_row(c, shot_id, wish.insert_after).number
        if number is not None and number + 1 < end:
            return _Place(number=number + 1, says=f"insert exposure {number + 1}")
    return _Place(number=end, says=f"take exposure {end}")


def _originals(new: _New) -> tuple[OriginalFile, ...]:
    return tuple(
        OriginalFile(
            id=secrets.token_hex(8),
            name=file.name,
            media_type=original.media_type,
            size=file.size,
            sha256=file.sha256,
            width=original.width,
            height=original.height,
        )
        for original, file in zip(new.taken.originals, new.stored, strict=True)
    )


def _original_columns(new: _New, position: int, original: OriginalFile) -> dict[str, Any]:
    return {"exposure_id": new.id, "position": position, **asdict(original)}


def _record(columns: Mapping[str, Any], originals: tuple[OriginalFile, ...]) -> Exposure:
    """The record of a row that was just written, without reading it again."""
    own = {field.name: columns[field.name] for field in fields(Exposure) if field.name in columns}
    return Exposure(**own, originals=originals)


def _note_on_receipt(
    c: Connection, key: str, fingerprint: str, now: datetime, exposure_id: str
) -> None:
    """Record the exposure against the key; the key need not have been claimed before."""
    new = sqlite.insert(ReceiptRow).values(key=key, fingerprint=fingerprint, created_at=now)
    c.execute(new.on_conflict_do_nothing())
    count = c.scalar(
        select(func.count()).select_from(ReceiptExposureRow).where(ReceiptExposureRow.key == key)
    )
    c.execute(
        insert(ReceiptExposureRow).values(key=key, position=count or 0, exposure_id=exposure_id)
    )
