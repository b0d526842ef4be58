"""The five steps that every edit is made of, as they are carried out in the database.

A step is a JSON list: ``["insert", exposure, number]`` puts an exposure into the shot at a place,
``["remove", exposure]`` takes it out (to the bin), ``["hold", exposure, frames]``,
``["note", exposure, text]`` and ``["shot", field, value]`` change one value. The same lists stand
in the undo history and in the shot's journal; ``replay.py`` carries them out on plain lists.
"""

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, select, update

from standclear.library.schema import ExposureRow, ShotRow

Step = list[Any]
SHOT_FIELDS = ("name", "frame_rate", "notes")


def carry_out(c: Connection, shot_id: str, steps: Sequence[Step], now: datetime) -> None:
    """Do ``steps`` in order."""
    for kind, *arguments in steps:
        if kind == "remove":
            _remove(c, shot_id, arguments[0], now)
        else:
            _DOERS[kind](c, shot_id, *arguments)


def _insert(c: Connection, shot_id: str, exposure_id: str, number: int) -> None:
    count = c.scalar(select(ShotRow.exposure_count).where(ShotRow.id == shot_id)) or 0
    hold = c.scalar(select(ExposureRow.hold).where(ExposureRow.id == exposure_id)) or 0
    place = max(1, min(number, count + 1))
    if place <= count:
        _shift(c, shot_id, place, +1)
    c.execute(
        update(ExposureRow)
        .where(ExposureRow.id == exposure_id)
        .values(
            number=place,
            last_number=place,
            binned_at=None,
            revision=ExposureRow.revision + 1,
        )
    )
    _count(c, shot_id, +1, hold)


def _remove(c: Connection, shot_id: str, exposure_id: str, now: datetime) -> None:
    row = c.execute(
        select(ExposureRow.number, ExposureRow.hold).where(ExposureRow.id == exposure_id)
    ).one()
    c.execute(
        update(ExposureRow)
        .where(ExposureRow.id == exposure_id)
        .values(
            number=None,
            last_number=row.number,
            binned_at=now,
            revision=ExposureRow.revision + 1,
        )
    )
    _shift(c, shot_id, row.number + 1, -1)
    _count(c, shot_id, -1, -row.hold)


def _hold(c: Connection, shot_id: str, exposure_id: str, hold: int) -> None:
    row = c.execute(
        select(ExposureRow.number, ExposureRow.hold).where(ExposureRow.id == exposure_id)
    ).one()
    _change(c, exposure_id, hold=hold)
    if row.number is not None:
        _count(c, shot_id, 0, hold - row.hold)


def _note(c: Connection, _shot_id: str, exposure_id: str, note: str) -> None:
    _change(c, exposure_id, note=note)


def _shot(c: Connection, shot_id: str, field: str, value: str) -> None:
    if field in SHOT_FIELDS:
        c.execute(update(ShotRow).where(ShotRow.id == shot_id).values({field: value}))


def _change(c: Connection, exposure_id: str, **values: Any) -> None:
    c.execute(
        update(ExposureRow)
        .where(ExposureRow.id == exposure_id)
        .values(revision=ExposureRow.revision + 1, **values)
    )


def _shift(c: Connection, shot_id: str, start: int, by: int) -> None:
    c.execute(
        update(ExposureRow)
        .where(ExposureRow.shot_id == shot_id, ExposureRow.number >= start)
        .values(number=ExposureRow.number + by)
    )


def _count(c: Connection, shot_id: str, exposures: int, frames: int) -> None:
    c.execute(
        update(ShotRow)
        .where(ShotRow.id == shot_id)
        .values(
            exposure_count=ShotRow.exposure_count + exposures,
            frame_count=ShotRow.frame_count + frames,
        )
    )


_DOERS: dict[str, Callable[..., None]] = {
    "insert": _insert,
    "hold": _hold,
    "note": _note,
    "shot": _shot,
}
