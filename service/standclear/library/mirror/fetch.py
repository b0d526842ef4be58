"""Brings a second copy back into a folder of its own, from which ``recover`` makes a library."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from standclear.library import naming
from standclear.library.disk import Disk
from standclear.library.failures import LibraryInUse, told_as_storage
from standclear.library.journal import JOURNAL_FILE
from standclear.library.library import DATABASE_FILE, SHOTS_FOLDER
from standclear.library.mirror.failures import PlaceAway
from standclear.library.mirror.identity import IDENTITY_FILE, keep_identity
from standclear.library.mirror.place import Place

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Fetched:
    """What came back."""

    originals: int
    journals: int
    size: int


def fetch(place: Place, folder: Path, progress: Progress | None = None) -> Fetched:
    """Read the copy at ``place`` into ``folder``, which must hold no library yet.

    What lies in the folder already is not fetched again, so that it can be broken off and begun
    anew. Whether the bytes are as they were kept is for :func:`recover` to say, which holds each
    file against its journal. Raises kinds of :class:`CopyError` and :class:`StorageError`.
    """
    if (folder / DATABASE_FILE).exists():
        raise LibraryInUse(f"There is a library in {folder} already; name an empty folder.")
    mark = place.mark()
    if mark is None:
        raise PlaceAway(f"There is no second copy at {place.address.shown}.")
    disk, size = Disk(), 0
    wanted = list(_ours(place))
    with told_as_storage("fetching the copy"):
        (folder / SHOTS_FOLDER).mkdir(parents=True, exist_ok=True)
        for done, name in enumerate(wanted, 1):
            size += _fetch_one(place, name, folder, disk)
            if progress:
                progress(done, len(wanted))
    if not (folder / IDENTITY_FILE).exists() and mark.library.isalnum():
        keep_identity(folder, mark.library, disk)
    journals = sum(name.endswith(f"/{JOURNAL_FILE}") for name in wanted)
    return Fetched(len(wanted) - journals, journals, size)


def _ours(place: Place) -> Iterator[str]:
    """Names of originals and journals; whatever else lies there leads nowhere."""
    for name in place.names():
        parts = PurePosixPath(name).parts
        if len(parts) != 3 or parts[0] != SHOTS_FOLDER or parts[1].startswith("."):
            continue
        if parts[2] == JOURNAL_FILE or naming.serial_of(parts[2]) is not None:
            yield name


def _fetch_one(place: Place, name: str, folder: Path, disk: Disk) -> int:
    target = folder / name
    if target.exists():
        return target.stat().st_size
    if not target.parent.is_dir():
        disk.make_folder(target.parent)
        disk.fsync_dir(target.parent.parent)
    data = place.read(name)
    half = target.with_name(naming.temporary(target.name))
    disk.unlink(half)
    descriptor = disk.create(half)
    try:
        disk.write(descriptor, data)
        disk.fsync(descriptor)
    finally:
        disk.close(descriptor)
    disk.rename(half, target)
    disk.fsync_dir(target.parent)
    return len(data)
