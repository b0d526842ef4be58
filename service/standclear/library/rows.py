"""From table rows to the records that the library hands out."""

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Row, Select, bindparam, select
from sqlalchemy.sql.elements import ColumnElement

from standclear.errors import NotFound
from standclear.library.records import Exposure, OriginalFile, Shot
from standclear.library.schema import EditRow, ExposureRow, OriginalRow, ShotRow


def _says(done: bool) -> ColumnElement[str | None]:
    """What the edit next to the mark says, as a subquery of a shot's row."""
    beside = EditRow.seq <= ShotRow.edit_done if done else EditRow.seq > ShotRow.edit_done
    return (
        select(EditRow.says)
        .where(EditRow.shot_id == ShotRow.id, beside)
        .order_by(EditRow.seq.desc() if done else EditRow.seq)
        .limit(1)
        .correlate(ShotRow)
        .scalar_subquery()
    )


def select_shots() -> Select[*tuple[Any, ...]]:
    """All that a :class:`Shot` needs."""
    return select(ShotRow, _says(True).label("undo_says"), _says(False).label("redo_says"))


_SHOT = select_shots().where(ShotRow.id == bindparam("which"))
_PLAIN_SHOT = select(ShotRow).where(ShotRow.id == bindparam("which"))
_EXPOSURE = select(ExposureRow).where(
    ExposureRow.id == bindparam("which"), ExposureRow.shot_id == bindparam("shot")
)
_ORIGINALS = (
    select(OriginalRow)
    .where(OriginalRow.exposure_id.in_(bindparam("those", expanding=True)))
    .order_by(OriginalRow.exposure_id, OriginalRow.position)
)


def shot_record(row: Row[Any]) -> Shot:
    """From a row of :func:`select_shots`."""
    return Shot(
        id=row.id,
        name=row.name,
        frame_rate=row.frame_rate,
        notes=row.notes,
        exposure_count=row.exposure_count,
        frame_count=row.frame_count,
        created_at=row.created_at,
        folder=row.folder,
        revision=row.revision,
        can_undo=row.undo_says is not None,
        can_redo=row.redo_says is not None,
        undo_says=row.undo_says or "",
        redo_says=row.redo_says or "",
    )


def shot_row(c: Connection, shot_id: str, *, binned: bool = False) -> Row[Any]:
    """The shot with that id. Raises :class:`NotFound` where there is none (or it is in the bin)."""
    return _there(_find(c, _SHOT, which=shot_id), shot_id, binned)


def plain_shot_row(c: Connection, shot_id: str, *, binned: bool = False) -> Row[Any]:
    """The same without what there is to undo; half the cost."""
    return _there(_find(c, _PLAIN_SHOT, which=shot_id), shot_id, binned)


def _find(c: Connection, statement: Any, **ids: str) -> Row[Any] | None:
    # Our ids are plain hex; what is not even text (a lone surrogate) must not reach SQLite.
    if not all(one.isascii() for one in ids.values()):
        return None
    row: Row[Any] | None = c.execute(statement, ids).one_or_none()
    return row


def _there(row: Row[Any] | None, shot_id: str, binned: bool) -> Row[Any]:
    if row is None or (row.binned_at is not None and not binned):
        raise NotFound(f"There is no shot {shot_id[:64]!r} in this library.")
    return row


def exposure_row(c: Connection, shot_id: str, exposure_id: str) -> Row[Any]:
    """The exposure of that shot with that id, in the bin or not. Raises :class:`NotFound`."""
    row = _find(c, _EXPOSURE, which=exposure_id, shot=shot_id)
    if row is None:
        raise NotFound(f"There is no exposure {exposure_id[:64]!r} in this shot.")
    return row


def exposure_record(c: Connection, shot_id: str, exposure_id: str) -> Exposure:
    """One exposure with its originals."""
    return exposure_records(c, [exposure_row(c, shot_id, exposure_id)])[0]


def exposure_records(c: Connection, rows: Sequence[Row[Any]]) -> list[Exposure]:
    """Exposures with their originals, in the order of ``rows``."""
    found: dict[str, list[OriginalFile]] = {row.id: [] for row in rows}
    for original in c.execute(_ORIGINALS, {"those": list(found)}):
        found[original.exposure_id].append(_original(original))
    return [_exposure(row, tuple(found[row.id])) for row in rows]


def _original(row: Row[Any]) -> OriginalFile:
    return OriginalFile(
        id=row.id,
        name=row.name,
        media_type=row.media_type,
        size=row.size,
        sha256=row.sha256,
        width=row.width,
        height=row.height,
    )


def _exposure(row: Row[Any], originals: tuple[OriginalFile, ...]) -> Exposure:
    return Exposure(
        id=row.id,
        shot_id=row.shot_id,
        number=row.number,
        hold=row.hold,
        note=row.note,
        taken_at=row.taken_at,
        camera=row.camera,
        settings=row.settings,
        originals=originals,
        verdict=row.verdict,
        revision=row.revision,
        binned_at=row.binned_at,
        pair=row.pair,
    )
