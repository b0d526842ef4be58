"""Which exposure is shown in which frame: holds expanded, windows found without walking the shot.

``last=n`` walks backwards from the end until n frames are covered, so the start of playback costs
the same in a long shot as in a short one.
"""

from collections.abc import Iterator, Sequence
from typing import Any

from sqlalchemy import Connection, Row, bindparam, func, select

from standclear.library import rows, values
from standclear.library.database import Database
from standclear.library.records import Playback, PlaybackFrame
from standclear.library.schema import ExposureRow

FRAMES_MAX = 100_000
_STRIDE = 64
_HOLDS = select(ExposureRow.id, ExposureRow.number, ExposureRow.hold).limit(_STRIDE)
_OF_SHOT = ExposureRow.shot_id == bindparam("shot")
_FORWARDS = _HOLDS.where(_OF_SHOT, ExposureRow.number >= bindparam("number")).order_by(
    ExposureRow.number
)
_BACKWARDS = _HOLDS.where(_OF_SHOT, ExposureRow.number <= bindparam("number")).order_by(
    ExposureRow.number.desc()
)


def playback(
    database: Database,
    shot_id: str,
    *,
    last: int | None,
    first: int | None,
    to: int | None,
    limit: int | None,
) -> Playback:
    """The frames ``first`` to ``to`` (from 1, both included), or the ``last`` ones."""
    _check(last, first, to, limit)
    with database.read() as c:
        shot = rows.plain_shot_row(c, shot_id)
        begin, end = _window(shot.frame_count, last, first, to)
        most = FRAMES_MAX if limit is None else limit
        end = min(end, begin + most - 1)
        frames = tuple(_frames(c, shot, begin, end)) if begin <= end else ()
    return Playback(
        shot_id=shot_id,
        frame_rate=shot.frame_rate,
        frame_count=shot.frame_count,
        first=begin if frames else 0,
        frames=frames,
    )


def _check(last: int | None, first: int | None, to: int | None, limit: int | None) -> None:
    if last is not None and (first is not None or to is not None):
        raise values.refuse("last", "Either last, or from and to; not both.")
    for field, value in (("last", last), ("from", first), ("to", to), ("limit", limit)):
        if value is not None and not 1 <= value <= 10**9:
            raise values.refuse(field, "Frames are counted from 1, to at most 1,000,000,000.")


def _window(count: int, last: int | None, first: int | None, to: int | None) -> tuple[int, int]:
    if last is not None:
        return max(1, count - last + 1), count
    return first or 1, min(count, to or count)


def _frames(c: Connection, shot: Row[Any], begin: int, end: int) -> Iterator[PlaybackFrame]:
    number, frame = _exposure_at(c, shot, begin)
    while frame <= end:
        stride = _some(c, shot.id, number, forwards=True)
        if not stride:
            return
        for row in stride:
            for shown in range(max(frame, begin), min(frame + row.hold - 1, end) + 1):
                yield PlaybackFrame(shown, row.id, row.number)
            frame += row.hold
        number = stride[-1].number + 1


def _exposure_at(c: Connection, shot: Row[Any], frame: int) -> tuple[int, int]:
    """The number of the exposure shown in ``frame``, and its first frame."""
    if frame <= shot.frame_count // 2:
        return _exposure_from_start(c, shot.id, frame)
    number, start = shot.exposure_count, shot.frame_count + 1
    while start > frame:
        for row in _some(c, shot.id, number, forwards=False):
            start -= row.hold
            number = row.number
            if start <= frame:
                return number, start
        number -= 1
    return number, start


def _exposure_from_start(c: Connection, shot_id: str, frame: int) -> tuple[int, int]:
    if frame == 1:
        return 1, 1
    ends = (
        select(
            ExposureRow.number,
            ExposureRow.hold,
            func.sum(ExposureRow.hold).over(order_by=ExposureRow.number).label("end"),
        )
        .where(ExposureRow.shot_id == shot_id, ExposureRow.number.is_not(None))
        .subquery()
    )
    row = c.execute(
        select(ends.c.number, ends.c.hold, ends.c.end)
        .where(ends.c.end >= frame)
        .order_by(ends.c.number)
        .limit(1)
    ).one()
    return row.number, row.end - row.hold + 1


def _some(
    c: Connection, shot_id: str, number: int, *, forwards: bool
) -> Sequence[Row[str, int | None, int]]:
    statement = _FORWARDS if forwards else _BACKWARDS
    return c.execute(statement, {"shot": shot_id, "number": number}).all()
