"""Ties the journal to the database: every change of a shot takes the journal's next number inside
its transaction, and the line follows the commit.

A line that cannot be written never undoes what was committed: the shot counts as behind, and its
next line is a snapshot of the whole shot instead. Opening the library finds the same by comparing
numbers.
"""

import logging
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, bindparam, select, update

from standclear.clock import Clock
from standclear.errors import StandclearError
from standclear.library import journal as journals
from standclear.library.database import Database, Write
from standclear.library.failures import LibraryDamaged
from standclear.library.journal import JOURNAL_FILE, Journal
from standclear.library.records import Exposure
from standclear.library.rows import exposure_records
from standclear.library.schema import ExposureRow, ShotRow

log = logging.getLogger(__name__)
_NEXT = (
    update(ShotRow)
    .where(ShotRow.id == bindparam("shot"))
    .values(journal_seq=ShotRow.journal_seq + 1, revision=ShotRow.revision + bindparam("more"))
    .returning(ShotRow.journal_seq, ShotRow.folder)
)


class Chronicle:
    """Writes the journals of all shots under ``shots``."""

    def __init__(self, database: Database, journal: Journal, shots: Path, clock: Clock) -> None:
        self._database = database
        self._journal = journal
        self._shots = shots
        self._clock = clock
        self._behind: set[str] = set()

    def add(
        self, write: Write, shot_id: str, line: Mapping[str, Any], *, revise: bool = True
    ) -> None:
        """Number ``line`` now, write it after the commit. ``revise`` counts a new revision."""
        values = {"shot": shot_id, "more": 1 if revise else 0}
        row = write.connection.execute(_NEXT, values).one()
        numbered = {"n": row.journal_seq, "at": self._clock.now().isoformat(), **line}
        write.then(lambda: self._append(shot_id, row.folder, numbered))

    def _append(self, shot_id: str, folder: str, line: Mapping[str, Any]) -> None:
        path = self._shots / folder / JOURNAL_FILE
        unflushed = {journal.parent.name for journal in self._journal.failed()}
        self._behind |= unflushed
        try:
            if folder in self._behind:
                self._write_snapshot(shot_id, path)
                self._behind.discard(folder)
            else:
                self._journal.append(path, line)
        except (OSError, StandclearError) as error:
            log.warning("journal %s could not be written: %s", path, error)
            self._behind.add(folder)

    def _write_snapshot(self, shot_id: str, path: Path) -> None:
        with self._database.read() as c:
            line = snapshot(c, shot_id)
        if journals.is_torn(path):
            end_torn_line(path)
        self._journal.append(path, line, flush=True)

    def catch_up(self) -> list[str]:
        """Write a snapshot into each journal that lacks its last lines. Returns the folders."""
        behind = []
        with self._database.read() as c:
            rows = c.execute(select(ShotRow.id, ShotRow.folder, ShotRow.journal_seq)).all()
        for row in rows:
            path = self._shots / row.folder / JOURNAL_FILE
            written = journals.last_sequence(path)
            if written > row.journal_seq:
                raise LibraryDamaged(
                    f"The database is older than the journal of {row.folder}: it may be an old "
                    "copy. Run `standclear recover` on this folder; the pictures are not touched."
                )
            if path.parent.is_dir() and written != row.journal_seq:
                self._write_snapshot(row.id, path)
                behind.append(row.folder)
        return behind


def end_torn_line(path: Path) -> None:
    """Close a half written last line, so that the next one can be read."""
    with path.open("ab") as file:
        file.write(b"\n")


def snapshot(c: Connection, shot_id: str) -> dict[str, Any]:
    """The whole shot as one journal line."""
    shot = c.execute(select(ShotRow).where(ShotRow.id == shot_id)).one()
    rows = c.execute(
        select(ExposureRow).where(ExposureRow.shot_id == shot_id).order_by(ExposureRow.serial)
    ).all()
    serials = {row.id: row.serial for row in rows}
    exposures = []
    for start in range(0, len(rows), 500):
        for record in exposure_records(c, rows[start : start + 500]):
            exposures.append(described(record, serials[record.id]))
    return {
        "n": shot.journal_seq,
        "at": shot.created_at.isoformat(),
        "snapshot": {"shot": described_shot(shot), "plan": shot.plan, "exposures": exposures},
    }


def described_shot(row: Any) -> dict[str, Any]:
    """What a journal says of a shot."""
    return {
        "id": row.id,
        "name": row.name,
        "frame_rate": row.frame_rate,
        "notes": row.notes,
        "created_at": row.created_at.isoformat(),
        "binned": row.binned_at is not None,
    }


def described(exposure: Exposure, serial: int) -> dict[str, Any]:
    """What a journal says of an exposure."""
    return {
        "id": exposure.id,
        "serial": serial,
        "number": exposure.number,
        "hold": exposure.hold,
        "note": exposure.note,
        "taken_at": exposure.taken_at.isoformat(),
        "camera": exposure.camera,
        "settings": dict(exposure.settings),
        "verdict": exposure.verdict,
        "pair": exposure.pair,
        "originals": [
            {
                "id": original.id,
                "name": original.name,
                "media_type": original.media_type,
                "size": original.size,
                "sha256": original.sha256,
                "width": original.width,
                "height": original.height,
            }
            for original in exposure.originals
        ],
    }
