"""Shots: listing, making, changing, the bin for shots, and the plan that belongs to each."""

import secrets
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, func, insert, select, update

from standclear.clock import Clock
from standclear.errors import ChangedElsewhere, StandclearError
from standclear.library import naming, rows, values
from standclear.library.chronicle import Chronicle, described_shot
from standclear.library.database import Database, Write
from standclear.library.editor import Editor
from standclear.library.failures import told_as_storage
from standclear.library.plan_fit import check_plan
from standclear.library.records import Page, Shot
from standclear.library.schema import ShotRow
from standclear.library.steps import Step
from standclear.library.store import Store

PAGE_MAX = 200
_SAYS = {
    "name": "rename the shot",
    "frame_rate": "change the frame rate",
    "notes": "change the notes",
}


class Shots:
    """All that concerns shots as such."""

    def __init__(
        self, database: Database, store: Store, chronicle: Chronicle, editor: Editor, clock: Clock
    ) -> None:
        self._database = database
        self._store = store
        self._chronicle = chronicle
        self._editor = editor
        self._clock = clock

    def page(self, after: str | None, limit: int, *, binned: bool) -> Page[Shot]:
        """Shots in the order they were made; the cursor is the last one's id."""
        values.limit(limit, PAGE_MAX)
        with self._database.read() as c:
            start = 0 if after is None else rows.shot_row(c, after, binned=True).serial
            state = ShotRow.binned_at.is_not(None) if binned else ShotRow.binned_at.is_(None)
            found = c.execute(
                rows.select_shots()
                .where(ShotRow.serial > start, state)
                .order_by(ShotRow.serial)
                .limit(limit + 1)
            ).all()
        items = [rows.shot_record(row) for row in found[:limit]]
        return Page(items, items[-1].id if len(found) > limit else None)

    def one(self, shot_id: str) -> Shot:
        """One shot."""
        with self._database.read() as c:
            return rows.shot_record(rows.shot_row(c, shot_id))

    def create(self, name: str, frame_rate: str, notes: str) -> Shot:
        """A new shot with a folder of its own."""
        values_given = {
            "name": values.name(name),
            "frame_rate": values.frame_rate(frame_rate),
            "notes": values.note(notes, "notes"),
        }
        stem = naming.slug(values_given["name"])
        made: list[str] = []
        try:
            return self._create(stem, values_given, made)
        except StandclearError:
            for folder in made:
                self._store.remove_empty(folder)
            raise

    def _create(self, stem: str, given: Mapping[str, str], made: list[str]) -> Shot:
        with self._database.write("making the shot") as write:
            c = write.connection
            serial = (c.scalar(select(func.max(ShotRow.serial))) or 0) + 1
            while self._store.taken("", [naming.shot_folder(serial, stem)]):
                serial += 1
            shot_id = secrets.token_hex(8)
            self._insert(c, shot_id, serial, stem, given)
            made.append(naming.shot_folder(serial, stem))
            self._store.make_folder(made[0])
            shot = rows.shot_row(c, shot_id)
            self._chronicle.add(write, shot_id, {"shot": described_shot(shot)}, revise=False)
            return rows.shot_record(shot)

    def _insert(
        self, c: Connection, shot_id: str, serial: int, stem: str, given: Mapping[str, str]
    ) -> None:
        c.execute(
            insert(ShotRow).values(
                id=shot_id,
                serial=serial,
                folder=naming.shot_folder(serial, stem),
                stem=stem,
                created_at=self._clock.now(),
                revision=1,
                exposure_count=0,
                frame_count=0,
                next_serial=1,
                edit_done=0,
                journal_seq=0,
                plan=None,
                plan_revision=0,
                binned_at=None,
                **given,
            )
        )

    def change(
        self,
        shot_id: str,
        name: str | None,
        frame_rate: str | None,
        notes: str | None,
        if_revision: int | None,
    ) -> Shot:
        """Change what is given; one edit."""
        wanted = {
            "name": None if name is None else values.name(name),
            "frame_rate": None if frame_rate is None else values.frame_rate(frame_rate),
            "notes": None if notes is None else values.note(notes, "notes"),
        }
        with self._database.write("changing the shot") as write:
            row = rows.shot_row(write.connection, shot_id)
            must_match(if_revision, row.revision)
            changed = {
                field: value
                for field, value in wanted.items()
                if value is not None and value != getattr(row, field)
            }
            if changed:
                forward: list[Step] = [["shot", f, value] for f, value in changed.items()]
                backward: list[Step] = [["shot", f, getattr(row, f)] for f in changed]
                says = " and ".join(_SAYS[field] for field in changed)
                self._editor.edit(write, shot_id, says=says, forward=forward, backward=backward)
            return rows.shot_record(rows.shot_row(write.connection, shot_id))

    def set_binned(self, shot_id: str, binned: bool, if_revision: int | None = None) -> Shot:
        """Into the bin for shots, or back. The folder stays where it is."""
        with self._database.write("moving the shot") as write:
            c = write.connection
            row = rows.shot_row(c, shot_id, binned=not binned)
            must_match(if_revision, row.revision)
            if (row.binned_at is not None) != binned:
                when = self._clock.now() if binned else None
                c.execute(update(ShotRow).where(ShotRow.id == shot_id).values(binned_at=when))
                self._note_shot(write, shot_id)
            return rows.shot_record(rows.shot_row(c, shot_id, binned=True))

    def _note_shot(self, write: Write, shot_id: str) -> None:
        row = rows.shot_row(write.connection, shot_id, binned=True)
        self._chronicle.add(write, shot_id, {"shot": described_shot(row)})

    def plan(self, shot_id: str) -> tuple[dict[str, Any] | None, int]:
        """The plan and its revision (0 where there is none yet)."""
        with self._database.read() as c:
            row = rows.shot_row(c, shot_id)
            return row.plan, row.plan_revision

    def put_plan(self, shot_id: str, plan: Mapping[str, Any], if_revision: int | None) -> int:
        """Replace the plan. Returns its new revision."""
        with told_as_storage("recording the plan"), self._database.write() as write:
            c = write.connection
            row = rows.shot_row(c, shot_id)
            must_match(if_revision, row.plan_revision)
            check_plan(plan, row.frame_rate)
            c.execute(
                update(ShotRow)
                .where(ShotRow.id == shot_id)
                .values(plan=dict(plan), plan_revision=row.plan_revision + 1)
            )
            self._chronicle.add(write, shot_id, {"plan": dict(plan)}, revise=False)
            return int(row.plan_revision) + 1


def must_match(if_revision: int | None, revision: int) -> None:
    """Raises :class:`ChangedElsewhere` where somebody else was faster."""
    if if_revision is not None and if_revision != revision:
        raise ChangedElsewhere(
            f"This is at revision {revision}, and you have read revision {if_revision}."
        )
