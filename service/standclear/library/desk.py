"""Settings and sessions beside a running service: what ``standclear token`` and ``pair`` need.

Takes no lock, so that it works while the service runs; touches no shot. A folder without a library
gets one first.
"""

from pathlib import Path

from standclear.clock import Clock, SystemClock
from standclear.library import migrate
from standclear.library.database import Database
from standclear.library.disk import Disk
from standclear.library.library import DATABASE_FILE, Library
from standclear.library.settings import Settings


class Desk(Settings):
    """The settings and sessions of one library."""

    def __init__(self, database: Database, clock: Clock) -> None:
        super().__init__(database, clock)
        self._own = database

    @classmethod
    def open(cls, folder: Path, clock: Clock | None = None) -> "Desk":
        """Open them. Raises what :meth:`Library.open` raises where the database is not ready."""
        clock = clock or SystemClock()
        path = folder / DATABASE_FILE
        if not path.exists() or migrate.version_of(path) != migrate.HEAD:
            Library.open(folder, clock).close()
        return cls(Database(path, Disk()), clock)

    def close(self) -> None:
        """Let go of the database. May be called twice."""
        self._own.close()

    def __enter__(self) -> "Desk":
        """Itself, for ``with``."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close it."""
        self.close()
