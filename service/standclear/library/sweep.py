"""What opening a library tidies up after a process that died.

Half files go. A whole original that no record knows (the process died between rename and commit)
is set aside, never removed, and its serial is not used again. Files that are not ours stay.
"""

from pathlib import Path

from sqlalchemy import Connection, select, update

from standclear.library import naming
from standclear.library.database import Database
from standclear.library.disk import Disk
from standclear.library.records import Sweep
from standclear.library.schema import ExposureRow, OriginalRow, ShotRow
from standclear.library.store import UNCLAIMED, Store


def sweep(database: Database, store: Store, disk: Disk, journals: list[str]) -> Sweep:
    """Tidy every shot's folder. ``journals`` are those that were brought up to date before."""
    half: list[str] = []
    unclaimed: list[str] = []
    missing: list[str] = []
    with database.read() as c:
        shots = c.execute(select(ShotRow.id, ShotRow.folder, ShotRow.next_serial)).all()
    for shot in shots:
        place = store.shots / shot.folder
        with database.read() as c:
            known = _known(c, shot.id)
        names = {entry.name for entry in place.iterdir()} if place.is_dir() else set()
        for name in sorted(filter(naming.is_temporary, names)):
            disk.unlink(place / name)
            half.append(f"{shot.folder}/{name}")
        strangers = {name for name in names - known if naming.serial_of(name) is not None}
        # A commit whose failure was told may still have reached the disk.
        lost = store.claim_back(shot.folder, sorted(known - names))
        missing += [f"{shot.folder}/{name}" for name in lost]
        unclaimed += store.set_aside(shot.folder, sorted(strangers))
        _pass_over(database, shot.id, shot.next_serial, place, strangers)
    return Sweep(tuple(half), tuple(unclaimed), tuple(missing), tuple(journals))


def _known(c: Connection, shot_id: str) -> set[str]:
    return set(
        c.scalars(
            select(OriginalRow.name)
            .join(ExposureRow, ExposureRow.id == OriginalRow.exposure_id)
            .where(ExposureRow.shot_id == shot_id)
        )
    )


def _pass_over(
    database: Database, shot_id: str, next_serial: int, place: Path, strangers: set[str]
) -> None:
    """Go on counting after the highest serial that was ever on disk."""
    aside = {path.name for path in (place / UNCLAIMED).glob("*")}
    serials = [serial for name in strangers | aside if (serial := naming.serial_of(name))]
    highest = max(serials, default=0)
    if highest >= next_serial:
        with database.write("tidying up") as write:
            write.connection.execute(
                update(ShotRow).where(ShotRow.id == shot_id).values(next_serial=highest + 1)
            )
