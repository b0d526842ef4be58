"""What a second place still lacks, told from the database: the library less what was verified.

Nothing is queued in memory. What waits is whatever is recorded and not yet verified at the place,
so that neither a restart nor an hour without the place can forget an exposure.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, and_, delete, func, or_, select, update
from sqlalchemy.dialects.sqlite import insert
from sqlalchemy.sql.elements import ColumnElement

from standclear.clock import Clock
from standclear.library.database import Database
from standclear.library.schema import (
    CopiedJournalRow,
    CopyRow,
    ExposureRow,
    OriginalRow,
    ShotRow,
)


@dataclass(frozen=True, slots=True)
class Copied:
    """One original: recorded here, and verified there or to be. ``name`` is ``folder/file``."""

    id: str
    name: str
    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class CopiedJournal:
    """A shot's journal, and how much of it the place holds (``size`` 0: none of it)."""

    shot: str
    folder: str
    sequence: int = 0
    size: int = 0
    sha256: str = ""


@dataclass(frozen=True, slots=True)
class Lag:
    """How far a place is behind: exposures and bytes that wait, since when, and what it holds."""

    exposures: int
    size: int
    oldest: datetime | None
    copied: int
    last: datetime | None


class Copies:
    """The record of second places; one per library. ``place`` is the id that a place bears."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    def waiting(self, place: str, most: int) -> list[Copied]:
        """Originals that the place lacks, in the order they were kept."""
        statement = (
            select(OriginalRow.id, ShotRow.folder, OriginalRow.name, OriginalRow.size)
            .add_columns(OriginalRow.sha256)
            .join(ExposureRow, ExposureRow.id == OriginalRow.exposure_id)
            .join(ShotRow, ShotRow.id == ExposureRow.shot_id)
            .outerjoin(CopyRow, _at(place))
            .where(CopyRow.original_id.is_(None))
            .order_by(ExposureRow.kept_at, ShotRow.serial, ExposureRow.serial, OriginalRow.position)
            .limit(most)
        )
        with self._database.read() as c:
            found = c.execute(statement).all()
        return [Copied(r.id, f"{r.folder}/{r.name}", r.size, r.sha256) for r in found]

    def verified(self, place: str, original: Copied) -> None:
        """Record that the place holds it: its bytes were read there and hashed."""
        values = {
            "place": place,
            "original_id": original.id,
            "name": original.name,
            "sha256": original.sha256,
            "verified_at": self._clock.now(),
            "gone": False,
        }
        with self._database.write("recording the copy") as write:
            write.connection.execute(insert(CopyRow).values(values).on_conflict_do_nothing())

    def held(self, place: str) -> list[Copied]:
        """What the place has been verified to hold, in the order of names."""
        statement = (
            select(CopyRow.original_id, CopyRow.name, CopyRow.sha256, OriginalRow.size)
            .join(OriginalRow, OriginalRow.id == CopyRow.original_id)
            .where(CopyRow.place == place, CopyRow.gone.is_(False))
            .order_by(CopyRow.name)
        )
        with self._database.read() as c:
            found = c.execute(statement).all()
        return [Copied(r.original_id, r.name, r.size, r.sha256) for r in found]

    def gone(self, place: str) -> list[Copied]:
        """Copies of originals that emptying the bin removed for good."""
        statement = select(CopyRow).where(CopyRow.place == place, CopyRow.gone)
        with self._database.read() as c:
            found = c.execute(statement).all()
        return [Copied(r.original_id, r.name, 0, r.sha256) for r in found]

    def forget(self, place: str, originals: Iterable[str]) -> None:
        """Hold these ids no longer for verified there: they are copied again, or were removed."""
        with self._database.write("recording the copy") as write:
            for original in originals:
                here = (CopyRow.place == place, CopyRow.original_id == original)
                write.connection.execute(delete(CopyRow).where(*here))

    def journals(self, place: str) -> list[CopiedJournal]:
        """All shots' journals, and how much of each the place holds."""
        return self._journals(place, behind=False)

    def journals_behind(self, place: str) -> list[CopiedJournal]:
        """Journals of which the place lacks the last lines."""
        return self._journals(place, behind=True)

    def _journals(self, place: str, *, behind: bool) -> list[CopiedJournal]:
        row = CopiedJournalRow
        statement = (
            select(ShotRow.id, ShotRow.folder, row.sequence, row.size, row.sha256)
            .outerjoin(row, and_(row.place == place, row.shot_id == ShotRow.id))
            .order_by(ShotRow.serial)
        )
        if behind:
            statement = statement.where(
                or_(row.sequence.is_(None), row.sequence != ShotRow.journal_seq)
            )
        with self._database.read() as c:
            found = c.execute(statement).all()
        return [
            CopiedJournal(r.id, r.folder, r.sequence or 0, r.size or 0, r.sha256 or "")
            for r in found
        ]

    def journal_verified(self, place: str, journal: CopiedJournal) -> None:
        """Record how much of a journal the place holds now."""
        values = {
            "sequence": journal.sequence,
            "size": journal.size,
            "sha256": journal.sha256,
        }
        added = insert(CopiedJournalRow).values(place=place, shot_id=journal.shot, **values)
        statement = added.on_conflict_do_update(index_elements=["place", "shot_id"], set_=values)
        with self._database.write("recording the copy") as write:
            write.connection.execute(statement)

    def lag(self, place: str) -> Lag:
        """How far the place is behind."""
        waiting = (
            select(
                func.count(ExposureRow.id.distinct()),
                func.sum(OriginalRow.size),
                func.min(ExposureRow.kept_at),
            )
            .select_from(OriginalRow)
            .join(ExposureRow, ExposureRow.id == OriginalRow.exposure_id)
            .outerjoin(CopyRow, _at(place))
            .where(CopyRow.original_id.is_(None))
        )
        held = select(
            func.count(OriginalRow.exposure_id.distinct()), func.max(CopyRow.verified_at)
        ).join(OriginalRow, OriginalRow.id == CopyRow.original_id)
        with self._database.read() as c:
            exposures, size, oldest = c.execute(waiting).one()
            copied, last = c.execute(held.where(CopyRow.place == place)).one()
        return Lag(exposures, size or 0, oldest, copied, last)


def _at(place: str) -> ColumnElement[bool]:
    return and_(CopyRow.place == place, CopyRow.original_id == OriginalRow.id)


def let_go(c: Connection, originals: Sequence[str]) -> None:
    """Within the transaction that empties the bin: the copies are to go too."""
    for original in originals:
        c.execute(update(CopyRow).where(CopyRow.original_id == original).values(gone=True))
