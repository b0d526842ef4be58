"""Brings a library's database to this version: makes it, checks it, upgrades it after a backup.

A database of a newer version, a damaged one, or one that is missing beside existing shots is
refused before anything is written.
"""

import sqlite3
from contextlib import closing
from datetime import datetime
from pathlib import Path
from urllib.parse import quote

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from alembic.util.exc import CommandError
from sqlalchemy import URL, create_engine
from sqlalchemy.pool import NullPool

from standclear.library import naming
from standclear.library.disk import Disk
from standclear.library.failures import LibraryDamaged, LibraryNewer, LibraryOlder, told_as_storage

#: The newest version this program knows; a test holds it against the scripts.
HEAD = "0003"
MIGRATIONS = Path(__file__).parent / "migrations"


def prepare(path: Path, shots: Path, now: datetime, versions: Path = MIGRATIONS) -> None:
    """Make sure that ``path`` holds a database of this version.

    Raises :class:`LibraryDamaged`, :class:`LibraryNewer`, :class:`StorageError`.
    """
    if _is_empty(path):
        _must_have_no_shots(path, shots)
        _upgrade(path, versions)
        return
    version = version_of(path)
    if version == HEAD and versions == MIGRATIONS:
        return
    scripts = ScriptDirectory.from_config(_config(versions))
    if version is None or not _known(scripts, version):
        raise LibraryNewer(
            f"The library's database has version {version}; this program knows {HEAD}. "
            "Nothing was changed."
        )
    if version != scripts.get_current_head():
        _back_up(path, path.with_name(f"{path.stem}.{version}.{now:%Y%m%dT%H%M%S}.backup.db"))
        _upgrade(path, versions)


def _is_empty(path: Path) -> bool:
    """No database yet, or one that died before its first table (making all is one commit)."""
    if not path.exists() or path.stat().st_size == 0:
        return True
    with told_as_storage("reading"), closing(open_to_read(path)) as connection:
        return connection.execute("SELECT 1 FROM sqlite_master").fetchone() is None


def _must_have_no_shots(path: Path, shots: Path) -> None:
    if shots.is_dir() and any(entry.is_dir() for entry in shots.iterdir()):
        raise LibraryDamaged(
            f"{path.name} is missing although there are shots in {shots}. Run `standclear "
            "recover` on this folder; the pictures are not touched by this."
        )


def make(path: Path) -> None:
    """Make an empty database of this version."""
    _upgrade(path, MIGRATIONS)


def must_be_current(path: Path) -> None:
    """Raises where there is no database of this version at ``path``; writes nothing."""
    if not path.exists():
        raise LibraryDamaged(f"There is no {path.name} in {path.parent}.")
    version = version_of(path)
    if version is not None and version < HEAD:
        raise LibraryOlder(
            f"The library's database has version {version}, not {HEAD}. Start the service on it "
            "once: it is upgraded, after a copy was made."
        )
    if version != HEAD:
        raise LibraryNewer(
            f"The library's database has version {version}, not {HEAD}; use the program of that "
            "version."
        )


def version_of(path: Path) -> str | None:
    """The version a database says it has, after a look at whether it is whole."""
    with told_as_storage("reading"), closing(open_to_read(path)) as connection:
        (found,) = connection.execute("PRAGMA quick_check(1)").fetchone()
        if found != "ok":
            raise LibraryDamaged(
                f"The library's database is damaged ({found}). Run `standclear recover` on this "
                "folder; the pictures are not touched by this."
            )
        table = "SELECT 1 FROM sqlite_master WHERE name = 'alembic_version'"
        if connection.execute(table).fetchone() is None:
            raise LibraryDamaged(
                f"{path.name} is no database of Standclear. Run `standclear recover` on this "
                "folder; the pictures are not touched by this."
            )
        row = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    return None if row is None else str(row[0])


def open_to_read(path: Path) -> sqlite3.Connection:
    """Open a database without changing it; unless a process died in the middle of a write, which
    SQLite takes back before anything can be read.

    One that nobody has open is read without the files that SQLite would leave beside it: made by
    another user (``sudo standclear doctor``) they would lock the service out.
    """
    at_rest = not any(Path(f"{path}{ending}").exists() for ending in ("-wal", "-journal"))
    connection = _connected(path, "ro&immutable=1" if at_rest else "ro")
    try:
        connection.execute("SELECT 1 FROM sqlite_master").fetchone()
    except sqlite3.OperationalError as error:
        connection.close()
        if (error.sqlite_errorcode & 0xFF) != sqlite3.SQLITE_READONLY:
            raise
        return _connected(path, "rw")
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def _connected(path: Path, mode: str) -> sqlite3.Connection:
    connection = sqlite3.connect(f"file:{quote(str(path))}?mode={mode}", uri=True)
    connection.execute("PRAGMA busy_timeout=10000")
    return connection


def _known(scripts: ScriptDirectory, version: str) -> bool:
    try:
        return scripts.get_revision(version) is not None
    except CommandError:
        return False


def _back_up(path: Path, copy: Path) -> None:
    """A copy that has its name only when it is whole and on disk."""
    half = copy.with_name(naming.temporary(copy.name))
    with told_as_storage("the backup before upgrading"):
        half.unlink(missing_ok=True)
        with closing(open_to_read(path)) as old, closing(sqlite3.connect(half)) as new:
            old.backup(new)  # flushed by SQLite
        half.replace(copy)
        Disk().fsync_dir(copy.parent)


def _upgrade(path: Path, versions: Path) -> None:
    engine = create_engine(URL.create("sqlite", database=str(path)), poolclass=NullPool)
    config = _config(versions)
    with told_as_storage("upgrading"), engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA journal_mode=WAL")
        connection.exec_driver_sql("PRAGMA synchronous=FULL")
        connection.commit()
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
        connection.commit()


def _config(versions: Path) -> Config:
    config = Config()
    config.set_main_option("script_location", str(versions).replace("%", "%%"))
    return config
