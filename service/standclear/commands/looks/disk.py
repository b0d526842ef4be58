"""The library's folder: may it be written, how much fits, how fast is it, is it well."""

import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from standclear.commands.looks.finding import Finding, State
from standclear.errors import StorageError
from standclear.library import migrate
from standclear.library.library import DATABASE_FILE, SHOTS_FOLDER

PICTURE_BYTES = 8_000_000  # a 24-megapixel JPEG
SLOW_S = 0.5
LITTLE_ROOM = 5_000_000_000  # some 600 such pictures
NO_ROOM = 20 * PICTURE_BYTES


def folder(library: Path) -> Iterator[Finding]:
    """Whether the library can be written, and by whom it belongs where it cannot."""
    place = existing(library)
    if not place.is_dir():
        yield Finding("library", "fault", f"{place} is no folder; choose another --library.")
    elif not os.access(place, os.R_OK | os.W_OK | os.X_OK):
        yield Finding("library", "fault", f"{place} cannot be written: {_owner(place)}.")
    elif place != library:
        yield Finding("library", "well", f"{library} will be made.")
    else:
        foreign = next(_not_writable(library), None)
        if foreign is None:
            yield Finding("library", "well", f"{library} can be written.")
        else:
            says = f"{foreign} in the library cannot be written: {_owner(foreign)}."
            yield Finding("library", "fault", says)


def _not_writable(library: Path) -> Iterator[Path]:
    """Parts that another user made, often by a service that once ran with sudo."""
    for name in (DATABASE_FILE, f"{DATABASE_FILE}-wal", SHOTS_FOLDER):
        path = library / name
        if path.exists() and not os.access(path, os.W_OK):
            yield path
    for shot in (library / SHOTS_FOLDER).glob("*"):
        if shot.is_dir() and not os.access(shot, os.W_OK | os.X_OK):
            yield shot


def _owner(path: Path) -> str:
    try:
        owner = path.owner()
    except (KeyError, OSError):
        owner = "another user"
    return f'it belongs to {owner}. Run as that user, or give it to yours: sudo chown -R "$USER"'


def database(library: Path) -> Iterator[Finding]:
    """Whether the library's database can be read, and is of this version."""
    path = library / DATABASE_FILE
    if not path.exists():
        if any((library / SHOTS_FOLDER).glob("*/*")):
            says = f"{DATABASE_FILE} is missing beside shots: run `standclear recover`."
            yield Finding("database", "fault", says)
        return
    try:
        version = migrate.version_of(path)
    except StorageError as error:
        yield Finding("database", "fault", error.detail)
        return
    if version == migrate.HEAD:
        yield Finding("database", "well", f"Whole, of version {version}.")
    else:
        says = f"Version {version}; this program knows {migrate.HEAD}. An older one is upgraded at"
        yield Finding("database", "warning", f"{says} the next start, after a copy was made.")


def room(library: Path) -> Iterator[Finding]:
    """How many pictures fit."""
    free = shutil.disk_usage(existing(library)).free
    says = f"{free / 1e9:.1f} GB free, some {free // PICTURE_BYTES} pictures of 8 MB."
    if free > LITTLE_ROOM:
        yield Finding("room", "well", says)
    else:
        state: State = "fault" if free < NO_ROOM else "warning"
        yield Finding("room", state, f"{says} Make room, or choose a --library on another disk.")


def speed(library: Path) -> Iterator[Finding]:
    """How long one picture takes to be written and flushed."""
    place = existing(library)
    try:
        with tempfile.NamedTemporaryFile(dir=place, prefix=".doctor-") as file:
            start = time.monotonic()
            file.write(os.urandom(PICTURE_BYTES))
            file.flush()
            os.fsync(file.fileno())
            took = time.monotonic() - start
    except OSError as error:
        says = f"An 8 MB file could not be written: {error.strerror}. Look at that disk."
        yield Finding("disk", "fault", says)
        return
    says = f"8 MB written and flushed in {took * 1000:.0f} ms."
    if took > SLOW_S:
        says += " That is slow: keep the library on a disk inside the machine, and --mirror it."
    yield Finding("disk", "warning" if took > SLOW_S else "well", says)


def existing(path: Path) -> Path:
    """The nearest folder that exists."""
    while not path.exists() and path != path.parent:
        path = path.parent
    return path
