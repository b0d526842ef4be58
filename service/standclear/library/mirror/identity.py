"""Which library a second copy belongs to: an id in a file of its own, so that it outlives the
database and comes back with the copy."""

import secrets
from contextlib import suppress
from pathlib import Path

from standclear.library.disk import Disk
from standclear.library.failures import told_as_storage

IDENTITY_FILE = "library.id"
_LONGEST = 64


def identity(folder: Path, disk: Disk | None = None) -> str:
    """The library's id, made where there is none. Raises kinds of :class:`StorageError`."""
    path = folder / IDENTITY_FILE
    with suppress(FileNotFoundError, UnicodeDecodeError):
        said = path.read_text(encoding="ascii").strip()[:_LONGEST]
        if said.isalnum():
            return said
    made = secrets.token_hex(8)
    keep_identity(folder, made, disk or Disk())
    return made


def keep_identity(folder: Path, made: str, disk: Disk) -> None:
    """Write the id down, flushed."""
    path = folder / IDENTITY_FILE
    half = path.with_name(f".{path.name}.part")
    with told_as_storage("the library's id"):
        disk.unlink(half)
        descriptor = disk.create(half)
        try:
            disk.write(descriptor, made.encode())
            disk.fsync(descriptor)
        finally:
            disk.close(descriptor)
        disk.rename(half, path)
        disk.fsync_dir(folder)
