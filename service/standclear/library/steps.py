"""The five steps that every edit is made of, as they are carried out in the database.

A step is a JSON list: ``["insert", exposure, number]`` puts an exposure into the shot at a place,
``["remove", exposure]`` takes it out (to the bin), ``["hold", exposure, frames]``,
``["note", exposure, text]`` and ``["shot", field, value]`` change one value. The same lists stand
in the undo history and in the shot's journal; ``replay.py`` carries them out on plain lists.

Statements are built once: building one costs ten times what SQLite takes to run it.
"""

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import BindParameter, Connection, bindparam, null, select, update

from standclear.library.schema import ExposureRow, ShotRow

Step = list[Any]
SHOT_FIELDS = ("name", "frame_rate", "notes")

_EXPOSURE: BindParameter[str] = bindparam("which")
_COUNT_AND_HOLD = select(ShotRow.exposure_count, ExposureRow.number, ExposureRow.hold).where(
    ShotRow.id == ExposureRow.shot_id, ExposureRow.id == _EXPOSURE
)
_PUT_IN = (
    update(ExposureRow)
    .where(ExposureRow.id == _EXPOSURE)
    .values(
        number=bindparam("place"),
        last_number=bindparam("place"),
        binned_at=null(),
        revision=ExposureRow.revision + 1,
    )
)
_TAKE_OUT = (
    update(ExposureRow)
    .where(ExposureRow.id == _EXPOSURE)
    .values(
        number=null(),
        last_number=ExposureRow.number,
        binned_at=bindparam("now"),
        revision=ExposureRow.revision + 1,
    )
)
_CHANGE = {
    field: update(ExposureRow)
    .where(ExposureRow.id == _EXPOSURE)
    .values({field: bindparam("value"), "revision": ExposureRow.revision + 1})
    for field in ("hold", "note")
}
_SHIFT = (
    update(ExposureRow)
    .where(ExposureRow.shot_id == bindparam("shot"), ExposureRow.number >= bindparam("start"))
    .values(number=ExposureRow.number + bindparam("by"))
)
_COUNT = (
    update(ShotRow)
    .where(ShotRow.id == bindparam("shot"))
    .values(
        exposure_count=ShotRow.exposure_count + bindparam("exposures"),
        frame_count=ShotRow.frame_count + bindparam("frames"),
    )
)


def carry_out(c: Connection, shot_id: str, steps: Sequence[Step], now: datetime) -> None:
    """Do ``steps`` in order."""
    for kind, *arguments in steps:
        if kind == "remove":
            _remove(c, shot_id, arguments[0], now)
        else:
            _DOERS[kind](c, shot_id, *arguments)


def _insert(c: Connection, shot_id: str, exposure_id: str, number: int) -> None:
    row = c.execute(_COUNT_AND_HOLD, {"which": exposure_id}).one()
    place = max(1, min(number, row.exposure_count + 1))
    if place <= row.exposure_count:
        c.execute(_SHIFT, {"shot": shot_id, "start": place, "by": 1})
    c.execute(_PUT_IN, {"which": exposure_id, "place": place})
    c.execute(_COUNT, {"shot": shot_id, "exposures": 1, "frames": row.hold})


def _remove(c: Connection, shot_id: str, exposure_id: str, now: datetime) -> None:
    row = c.execute(_COUNT_AND_HOLD, {"which": exposure_id}).one()
    c.execute(_TAKE_OUT, {"which": exposure_id, "now": now})
    if row.number < row.exposure_count:
        c.execute(_SHIFT, {"shot": shot_id, "start": row.number + 1, "by": -1})
    c.execute(_COUNT, {"shot": shot_id, "exposures": -1, "frames": -row.hold})


def _hold(c: Connection, shot_id: str, exposure_id: str, hold: int) -> None:
    row = c.execute(_COUNT_AND_HOLD, {"which": exposure_id}).one()
    c.execute(_CHANGE["hold"], {"which": exposure_id, "value": hold})
    if row.number is not None:
        c.execute(_COUNT, {"shot": shot_id, "exposures": 0, "frames": hold - row.hold})


def _note(c: Connection, _shot_id: str, exposure_id: str, note: str) -> None:
    c.execute(_CHANGE["note"], {"which": exposure_id, "value": note})


def _shot(c: Connection, shot_id: str, field: str, value: str) -> None:
    if field in SHOT_FIELDS:
        c.execute(update(ShotRow).where(ShotRow.id == shot_id).values({field: value}))


_DOERS: dict[str, Callable[..., None]] = {
    "insert": _insert,
    "hold": _hold,
    "note": _note,
    "shot": _shot,
}
