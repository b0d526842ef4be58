"""The library's SQLite database: many readers at once, one writer at a time.

Write-ahead log with ``synchronous=FULL``: a commit that returned survives a power cut. Writers wait
for one lock in this process, and take SQLite's write lock at once (``BEGIN IMMEDIATE``), so that
another process (``standclear token``) never leaves one half way.

A commit that fails at its flush leaves its pages in the log, and whoever opened the log anew would
take them for committed. From the first write on one connection is therefore held that does nothing:
while it is there SQLite goes by what it knows of the log, and the next commit writes over them
(https://www.sqlite.org/walformat.html, "Recovery").
"""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, create_engine, event
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import PoolProxiedConnection, QueuePool

from standclear.library.disk import Disk
from standclear.library.failures import LibraryClosed, told_as_storage

_PRAGMAS = (
    "PRAGMA busy_timeout=10000",
    "PRAGMA journal_mode=WAL",
    "PRAGMA synchronous=FULL",
    "PRAGMA foreign_keys=ON",
)
_IMMEDIATE = "standclear_immediate"


class Write:
    """A transaction in progress: its ``connection``, and what is to follow its commit."""

    def __init__(self, connection: Connection) -> None:
        self.connection = connection
        self.following: list[Callable[[], None]] = []

    def then(self, following: Callable[[], None]) -> None:
        """Call this right after the commit, still before the next writer."""
        self.following.append(following)


class Database:
    """Connections to one ``library.db``."""

    def __init__(self, path: Path, disk: Disk) -> None:
        self._disk = disk
        self._lock = threading.Lock()
        self._open = True
        self._engine = create_engine(
            URL.create("sqlite", database=str(path)),
            poolclass=QueuePool,
            pool_size=8,
            max_overflow=-1,
            connect_args={"check_same_thread": False},
        )
        event.listen(self._engine, "connect", _prepare)
        event.listen(self._engine, "begin", _begin)
        self._writer = self._engine.execution_options(**{_IMMEDIATE: True})
        self._held: PoolProxiedConnection | None = None

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """One consistent view of the database."""
        with told_as_storage("reading"):
            self._must_be_open()
            with self._engine.connect() as connection:
                yield connection

    @contextmanager
    def write(self, doing: str = "recording the change") -> Iterator[Write]:
        """A transaction; committed when the block ends well, otherwise nothing changed."""
        with self._lock:
            self._must_be_open()
            with told_as_storage(doing), self._transaction() as write:
                yield write
            self._disk.after_commit()
            for following in write.following:
                following()

    @contextmanager
    def _transaction(self) -> Iterator[Write]:
        if self._held is None:
            self._held = self._engine.raw_connection()
        with self._writer.connect() as connection:
            try:
                connection.begin()
                write = Write(connection)
                yield write
                self._disk.before_commit()
                connection.commit()
            except DBAPIError:
                # A connection that met a full or failing disk is not used again.
                connection.invalidate()
                raise

    def close(self) -> None:
        """Wait for the writer in progress, then refuse everything."""
        with self._lock:
            if not self._open:
                return
            self._open = False
            if self._held is not None:
                self._held.close()
            self._engine.dispose()

    def _must_be_open(self) -> None:
        if not self._open:
            raise LibraryClosed("The library is closed: the service is stopping.")


def _prepare(connection: Any, _record: Any) -> None:
    # Transactions are begun by us, so that BEGIN IMMEDIATE is possible.
    connection.isolation_level = None
    for pragma in _PRAGMAS:
        connection.execute(pragma)


def _begin(connection: Connection) -> None:
    immediate = connection.get_execution_options().get(_IMMEDIATE, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if immediate else "BEGIN")
