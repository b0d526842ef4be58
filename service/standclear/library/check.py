"""Reads every original again and holds it against its record: nothing altered, nothing missing."""

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, select

from standclear.library import migrate
from standclear.library.database import Database
from standclear.library.disk import Disk
from standclear.library.failures import told_as_storage
from standclear.library.library import DATABASE_FILE, SHOTS_FOLDER
from standclear.library.schema import ExposureRow, OriginalRow, ShotRow
from standclear.library.store import UNCLAIMED

_CHUNK = 1 << 20
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class CheckReport:
    """What was found; names are ``<shot folder>/<file>``. ``numbering`` names shots whose
    exposures are not counted 1, 2, 3, …, or whose counts are wrong."""

    originals: int
    size: int
    altered: tuple[str, ...]
    missing: tuple[str, ...]
    unreadable: tuple[str, ...]
    numbering: tuple[str, ...]
    unclaimed: tuple[str, ...]

    @property
    def well(self) -> bool:
        """Whether every recorded original is there, byte for byte."""
        return not (self.altered or self.missing or self.unreadable or self.numbering)


@dataclass(frozen=True, slots=True)
class _Recorded:
    name: str
    path: Path
    size: int
    sha256: str


def check(folder: Path, progress: Progress | None = None) -> CheckReport:
    """Check the library in ``folder``; it may be in use meanwhile, nothing is written.

    ``progress`` is called with (done, all) originals. Raises what reading the database raises.
    """
    database = _opened(folder)
    try:
        with database.read() as c:
            recorded = list(_recorded(c, folder / SHOTS_FOLDER))
            numbering = tuple(_misnumbered(c))
    finally:
        database.close()
    found: dict[str, list[str]] = {"altered": [], "missing": [], "unreadable": []}
    for done, original in enumerate(recorded, 1):
        fault = _fault(original)
        if fault:
            found[fault].append(original.name)
        if progress:
            progress(done, len(recorded))
    aside = sorted((folder / SHOTS_FOLDER).glob(f"*/{UNCLAIMED}/*"))
    return CheckReport(
        originals=len(recorded),
        size=sum(original.size for original in recorded),
        numbering=numbering,
        unclaimed=tuple(str(path.relative_to(folder / SHOTS_FOLDER)) for path in aside),
        **{kind: tuple(names) for kind, names in found.items()},
    )


def _opened(folder: Path) -> Database:
    path = folder / DATABASE_FILE
    with told_as_storage("checking"):
        migrate.must_be_current(path)
        return Database(path, Disk())


def _recorded(c: Connection, shots: Path) -> Iterator[_Recorded]:
    statement = (
        select(ShotRow.folder, OriginalRow.name, OriginalRow.size, OriginalRow.sha256)
        .join(ExposureRow, ExposureRow.shot_id == ShotRow.id)
        .join(OriginalRow, OriginalRow.exposure_id == ExposureRow.id)
        .order_by(ShotRow.serial, ExposureRow.serial, OriginalRow.position)
    )
    for row in c.execute(statement):
        path = shots / row.folder / row.name
        yield _Recorded(f"{row.folder}/{row.name}", path, row.size, row.sha256)


def _misnumbered(c: Connection) -> Iterator[str]:
    for shot in c.execute(select(ShotRow)).all():
        rows = c.execute(
            select(ExposureRow.number, ExposureRow.hold)
            .where(ExposureRow.shot_id == shot.id, ExposureRow.number.is_not(None))
            .order_by(ExposureRow.number)
        ).all()
        numbers = [row.number for row in rows]
        counts = (len(rows), sum(row.hold for row in rows))
        in_order = numbers == list(range(1, len(rows) + 1))
        if not in_order or counts != (shot.exposure_count, shot.frame_count):
            yield shot.folder


def _fault(original: _Recorded) -> str | None:
    try:
        if original.path.stat().st_size != original.size:
            return "altered"
        return None if sha256_of(original.path) == original.sha256 else "altered"
    except FileNotFoundError:
        return "missing"
    except OSError:
        return "unreadable"


def sha256_of(path: Path) -> str:
    """The SHA-256 of a file (hex), read piece by piece."""
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while piece := file.read(_CHUNK):
            digest.update(piece)
    return digest.hexdigest()
