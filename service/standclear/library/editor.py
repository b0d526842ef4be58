"""Edits of a shot: carried out, recorded for undo, written to the journal, in one transaction."""

from collections.abc import Mapping, Sequence
from typing import Any

from standclear.clock import Clock
from standclear.library import history, plan_fit, rows, steps
from standclear.library.chronicle import Chronicle
from standclear.library.database import Database, Write
from standclear.library.records import Shot
from standclear.library.steps import Step


class Editor:
    """The one way to change a shot."""

    def __init__(self, database: Database, chronicle: Chronicle, clock: Clock) -> None:
        self._database = database
        self._chronicle = chronicle
        self._clock = clock

    def edit(
        self,
        write: Write,
        shot_id: str,
        *,
        says: str,
        forward: Sequence[Step],
        backward: Sequence[Step],
        also: Mapping[str, Any] | None = None,
    ) -> None:
        """Do ``forward`` within ``write``; ``also`` goes into the journal's line."""
        c = write.connection
        steps.carry_out(c, shot_id, forward, self._clock.now())
        plan_fit.check_steps(c, shot_id, forward)
        history.record(c, shot_id, says, forward, backward)
        self._chronicle.add(write, shot_id, {"says": says, "steps": forward, **(also or {})})

    def undo(self, shot_id: str) -> Shot:
        """Take the last edit back. Raises :class:`history.NothingToUndo`."""
        return self._step(shot_id, "undo")

    def redo(self, shot_id: str) -> Shot:
        """Do again what was last undone. Raises :class:`history.NothingToRedo`."""
        return self._step(shot_id, "redo")

    def _step(self, shot_id: str, way: str) -> Shot:
        with self._database.write(f"the {way}") as write:
            c = write.connection
            rows.shot_row(c, shot_id)
            move = history.step_back if way == "undo" else history.step_forward
            row = move(c, shot_id)
            steps.carry_out(c, shot_id, row.steps, self._clock.now())
            plan_fit.check_steps(c, shot_id, row.steps)
            line = {"says": f"{way}: {row.says}", "steps": row.steps}
            self._chronicle.add(write, shot_id, line)
            return rows.shot_record(rows.shot_row(c, shot_id))
