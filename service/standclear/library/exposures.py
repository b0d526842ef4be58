"""A shot's exposures: pages of them, one of them, changing it, the bin."""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Row, bindparam, delete, select, update

from standclear.errors import Conflict, NotFound
from standclear.library import copies, history, rows, values
from standclear.library.chronicle import Chronicle
from standclear.library.database import Database
from standclear.library.editor import Editor
from standclear.library.failures import told_as_storage
from standclear.library.records import Exposure, Judged, Line, OriginalFile, Page
from standclear.library.schema import ExposureRow, OriginalRow
from standclear.library.shots import must_match
from standclear.library.steps import Step
from standclear.library.store import Store

PAGE_MAX = 1000
_IN_ORDER = (
    select(ExposureRow)
    .where(ExposureRow.shot_id == bindparam("shot"), ExposureRow.number > bindparam("start"))
    .order_by(ExposureRow.number)
    .limit(bindparam("most"))
)


class Exposures:
    """All that concerns exposures once they are kept."""

    def __init__(
        self, database: Database, store: Store, chronicle: Chronicle, editor: Editor
    ) -> None:
        self._database = database
        self._store = store
        self._chronicle = chronicle
        self._editor = editor

    def page(self, shot_id: str, after: str | None, limit: int) -> Page[Exposure]:
        """The exposures in the shot's order. ``after`` is a cursor, or an exposure's id."""
        values.limit(limit, PAGE_MAX)
        with self._database.read() as c:
            rows.plain_shot_row(c, shot_id)
            start = 0 if after is None else _number_before(c, shot_id, after)
            which = {"shot": shot_id, "start": start, "most": limit + 1}
            found = c.execute(_IN_ORDER, which).all()
            items = rows.exposure_records(c, found[:limit])
        last = items[-1] if len(found) > limit else None
        return Page(items, None if last is None else f"{last.number}.{last.id}")

    def outline(self, shot_id: str) -> list[Line]:
        """All exposures in order, little of each."""
        with self._database.read() as c:
            rows.plain_shot_row(c, shot_id)
            found = c.execute(
                select(ExposureRow.id, ExposureRow.number, ExposureRow.hold, ExposureRow.taken_at)
                .where(ExposureRow.shot_id == shot_id, ExposureRow.number.is_not(None))
                .order_by(ExposureRow.number)
            ).all()
        return [Line(row.id, row.number, row.hold, row.taken_at) for row in found]

    def judged(self, shot_id: str) -> list[Judged]:
        """All exposures in order with their verdicts, in one light query."""
        columns = (
            ExposureRow.id,
            ExposureRow.number,
            ExposureRow.hold,
            ExposureRow.taken_at,
            ExposureRow.verdict,
        )
        with self._database.read() as c:
            rows.plain_shot_row(c, shot_id)
            found = c.execute(
                select(*columns)
                .where(ExposureRow.shot_id == shot_id, ExposureRow.number.is_not(None))
                .order_by(ExposureRow.number)
            ).all()
        return [Judged(row.id, row.number, row.hold, row.taken_at, row.verdict) for row in found]

    def one(self, shot_id: str, exposure_id: str) -> Exposure:
        """One exposure, in the bin or not."""
        with self._database.read() as c:
            rows.plain_shot_row(c, shot_id)
            return rows.exposure_record(c, shot_id, exposure_id)

    def binned(self, shot_id: str, after: str | None, limit: int) -> Page[Exposure]:
        """What is in the shot's bin, in the order of taking."""
        values.limit(limit, PAGE_MAX)
        with self._database.read() as c:
            rows.plain_shot_row(c, shot_id)
            start = 0 if after is None else rows.exposure_row(c, shot_id, after).serial
            found = c.execute(
                select(ExposureRow)
                .where(
                    ExposureRow.shot_id == shot_id,
                    ExposureRow.number.is_(None),
                    ExposureRow.serial > start,
                )
                .order_by(ExposureRow.serial)
                .limit(limit + 1)
            ).all()
            items = rows.exposure_records(c, found[:limit])
        return Page(items, items[-1].id if len(found) > limit else None)

    def change(
        self,
        shot_id: str,
        exposure_id: str,
        hold: int | None,
        note: str | None,
        if_revision: int | None,
    ) -> Exposure:
        """Change hold, note or both; one edit."""
        wanted: dict[str, Any] = {
            "hold": None if hold is None else values.hold(hold),
            "note": None if note is None else values.note(note),
        }
        with self._database.write("changing the exposure") as write:
            c = write.connection
            row = _in_shot(c, shot_id, exposure_id)
            must_match(if_revision, row.revision)
            changed = {
                field: value
                for field, value in wanted.items()
                if value is not None and value != getattr(row, field)
            }
            if changed:
                forward: list[Step] = [[f, exposure_id, value] for f, value in changed.items()]
                backward: list[Step] = [[f, exposure_id, getattr(row, f)] for f in changed]
                says = _says(row, changed)
                self._editor.edit(write, shot_id, says=says, forward=forward, backward=backward)
            return rows.exposure_record(c, shot_id, exposure_id)

    def to_bin(self, shot_id: str, exposure_id: str, if_revision: int | None) -> Exposure:
        """Out of the shot, into its bin."""
        with self._database.write("moving the exposure") as write:
            c = write.connection
            row = _in_shot(c, shot_id, exposure_id)
            must_match(if_revision, row.revision)
            self._editor.edit(
                write,
                shot_id,
                says=f"delete exposure {row.number}",
                forward=[["remove", exposure_id]],
                backward=[["insert", exposure_id, row.number]],
            )
            return rows.exposure_record(c, shot_id, exposure_id)

    def restore(self, shot_id: str, exposure_id: str) -> Exposure:
        """Out of the bin, back to the place it last had (or the end)."""
        with self._database.write("restoring the exposure") as write:
            c = write.connection
            shot = rows.plain_shot_row(c, shot_id)
            row = rows.exposure_row(c, shot_id, exposure_id)
            if row.number is not None:
                raise Conflict(f"Exposure {row.number} is in the shot, not in the bin.")
            number = max(1, min(row.last_number, shot.exposure_count + 1))
            self._editor.edit(
                write,
                shot_id,
                says=f"restore exposure {number}",
                forward=[["insert", exposure_id, number]],
                backward=[["remove", exposure_id]],
            )
            return rows.exposure_record(c, shot_id, exposure_id)

    def empty_bin(self, shot_id: str) -> list[str]:
        """Remove what is in the bin for good, originals included. Returns the ids.

        The record goes first: files that a crash leaves behind are set aside, never shown.
        """
        with self._database.write("emptying the bin") as write:
            c = write.connection
            shot = rows.plain_shot_row(c, shot_id)
            here = (ExposureRow.shot_id == shot_id, ExposureRow.number.is_(None))
            gone = list(c.scalars(select(ExposureRow.id).where(*here)))
            which = OriginalRow.exposure_id.in_(select(ExposureRow.id).where(*here))
            originals = c.execute(select(OriginalRow.id, OriginalRow.name).where(which)).all()
            names = [original.name for original in originals]
            if not gone:
                return []
            copies.let_go(c, [original.id for original in originals])
            c.execute(delete(OriginalRow).where(which))
            c.execute(delete(ExposureRow).where(*here))
            history.forget(c, shot_id, set(gone))
            self._chronicle.add(write, shot_id, {"says": "empty the bin", "gone": gone})
        with told_as_storage("removing the originals"):
            self._store.remove(shot.folder, names)
        return gone

    def original(self, shot_id: str, exposure_id: str, index: int) -> tuple[Path, OriginalFile]:
        """Where an original lies, and its record."""
        with self._database.read() as c:
            shot = rows.plain_shot_row(c, shot_id)
            originals = rows.exposure_record(c, shot_id, exposure_id).originals
        if not 0 <= index < len(originals):
            raise NotFound(f"This exposure has {len(originals)} original(s), numbered from 0.")
        return self._store.path(shot.folder, originals[index].name), originals[index]

    def put_verdict(self, exposure_id: str, verdict: Mapping[str, Any]) -> Exposure:
        """What the watches say. Not an edit: nothing to undo, no new revision."""
        with self._database.write("recording the verdict") as write:
            c = write.connection
            shot_id = c.scalar(select(ExposureRow.shot_id).where(ExposureRow.id == exposure_id))
            if shot_id is None:
                raise NotFound(f"There is no exposure {exposure_id[:64]!r} in this library.")
            c.execute(
                update(ExposureRow)
                .where(ExposureRow.id == exposure_id)
                .values(verdict=dict(verdict))
            )
            line = {"verdict": [exposure_id, dict(verdict)]}
            self._chronicle.add(write, shot_id, line, revise=False)
            return rows.exposure_record(c, shot_id, exposure_id)


def _in_shot(c: Connection, shot_id: str, exposure_id: str) -> Row[Any]:
    rows.plain_shot_row(c, shot_id)
    row = rows.exposure_row(c, shot_id, exposure_id)
    if row.number is None:
        raise Conflict("This exposure is in the bin; restore it first.")
    return row


def _number_before(c: Connection, shot_id: str, after: str) -> int:
    """The place after which a page begins. A cursor still works when its exposure has gone."""
    number, _, exposure_id = after.rpartition(".")
    with suppress(NotFound):
        row = rows.exposure_row(c, shot_id, exposure_id)
        if row.number is not None:
            return int(row.number)
    if not (number.isascii() and number.isdigit() and len(number) < 10):
        raise values.refuse("after", "This is no cursor of this list; use next as it was given.")
    return int(number) - 1


def _says(row: Row[Any], changed: Mapping[str, Any]) -> str:
    says: Sequence[str] = [
        f"hold exposure {row.number} for {changed['hold']}" if "hold" in changed else "",
        f"change the note of exposure {row.number}" if "note" in changed else "",
    ]
    return " and ".join(part for part in says if part)
