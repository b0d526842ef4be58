"""Undo and redo: a shot's edits in a row, and a mark between those done and those undone.

A new edit forgets what was undone. Every change of a shot's exposures goes through here, so that
undoing meets exactly what the edit left behind.
"""

from collections.abc import Sequence

from sqlalchemy import Connection, Row, bindparam, delete, insert, select, update

from standclear.errors import Conflict
from standclear.library.schema import EditRow, ShotRow
from standclear.library.steps import Step


class NothingToUndo(Conflict):
    """The history ends here."""

    code = "nothing_to_undo"
    title = "There is nothing to undo"
    hint = "Read the shot: can_undo says whether there is."


class NothingToRedo(Conflict):
    """Nothing was undone, or a new edit was made since."""

    code = "nothing_to_redo"
    title = "There is nothing to redo"
    hint = "Read the shot: can_redo says whether there is."


_DONE = select(ShotRow.edit_done).where(ShotRow.id == bindparam("shot"))
_MOVE = update(ShotRow).where(ShotRow.id == bindparam("shot")).values(edit_done=bindparam("mark"))
_DROP_UNDONE = delete(EditRow).where(
    EditRow.shot_id == bindparam("shot"), EditRow.seq > bindparam("mark")
)
_ADD = insert(EditRow)


def record(
    c: Connection, shot_id: str, says: str, forward: Sequence[Step], backward: Sequence[Step]
) -> None:
    """Write an edit that was just carried out at the mark; forget what was undone."""
    done = _done(c, shot_id)
    c.execute(_DROP_UNDONE, {"shot": shot_id, "mark": done})
    edit = {"shot_id": shot_id, "seq": done + 1, "says": says}
    c.execute(_ADD, edit | {"forward": forward, "backward": backward})
    _move_mark(c, shot_id, done + 1)


def step_back(c: Connection, shot_id: str) -> Row[tuple[str, list[Step]]]:
    """Move the mark back over one edit. Returns what it ``says`` and the ``steps`` to carry out."""
    row = c.execute(
        select(EditRow.says, EditRow.backward.label("steps"), EditRow.seq)
        .where(EditRow.shot_id == shot_id, EditRow.seq <= _done(c, shot_id))
        .order_by(EditRow.seq.desc())
        .limit(1)
    ).one_or_none()
    if row is None:
        raise NothingToUndo("No edit of this shot is left to undo.")
    _move_mark(c, shot_id, row.seq - 1)
    return row


def step_forward(c: Connection, shot_id: str) -> Row[tuple[str, list[Step]]]:
    """Move the mark forward over one edit, as :func:`step_back`."""
    row = c.execute(
        select(EditRow.says, EditRow.forward.label("steps"), EditRow.seq)
        .where(EditRow.shot_id == shot_id, EditRow.seq > _done(c, shot_id))
        .order_by(EditRow.seq)
        .limit(1)
    ).one_or_none()
    if row is None:
        raise NothingToRedo("No undone edit of this shot is left to redo.")
    _move_mark(c, shot_id, row.seq)
    return row


def forget(c: Connection, shot_id: str, gone: set[str]) -> None:
    """Drop the edits that would need exposures which are gone for good.

    Edits are undone in order, so what lies beyond such an edit cannot be reached any more either.
    """
    done = _done(c, shot_id)
    rows = c.execute(
        select(EditRow.seq, EditRow.forward, EditRow.backward).where(EditRow.shot_id == shot_id)
    )
    needing = [r.seq for r in rows if (_exposures(r.forward) | _exposures(r.backward)) & gone]
    last_done = max((seq for seq in needing if seq <= done), default=0)
    first_undone = min((seq for seq in needing if seq > done), default=None)
    c.execute(delete(EditRow).where(EditRow.shot_id == shot_id, EditRow.seq <= last_done))
    if first_undone is not None:
        c.execute(delete(EditRow).where(EditRow.shot_id == shot_id, EditRow.seq >= first_undone))


def _exposures(steps: Sequence[Step]) -> set[str]:
    return {step[1] for step in steps if step[0] != "shot"}


def _done(c: Connection, shot_id: str) -> int:
    return c.scalar(_DONE, {"shot": shot_id}) or 0


def _move_mark(c: Connection, shot_id: str, seq: int) -> None:
    c.execute(_MOVE, {"shot": shot_id, "mark": seq})
