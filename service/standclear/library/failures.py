"""What can go wrong with the library, and how the system's own errors become these."""

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError

from standclear.errors import Conflict, Invalid, StandclearError, StorageError


class DiskFull(StorageError):
    """There is no room left for the picture or its record."""

    code = "disk_full"
    title = "The disk is full"
    hint = "Make room on the disk that holds the library, then press again."


class LibraryReadOnly(StorageError):
    """The folder, its file system or the database cannot be written."""

    code = "library_read_only"
    title = "The library cannot be written to"
    hint = "Make the library's folder writable for this service, then press again."


class LibraryInUse(StorageError):
    """Another running service holds this library."""

    code = "library_in_use"
    status = 409
    title = "Another service is using this library"
    hint = "Stop the other service, or start this one on another folder."


class LibraryNewer(StorageError):
    """A newer Standclear wrote this library; nothing was touched."""

    code = "library_newer"
    status = 409
    title = "This library was written by a newer Standclear"
    hint = "Start the newer version, or use another folder."


class LibraryOlder(StorageError):
    """An older Standclear wrote this library, and it is not upgraded yet."""

    code = "library_older"
    status = 409
    title = "This library was written by an older Standclear"
    hint = "Start the service on it once: it is upgraded, after a copy was made."


class LibraryDamaged(StorageError):
    """The database cannot be read, or is older than what the shots' folders say."""

    code = "library_damaged"
    status = 500
    title = "The library's database is damaged"
    hint = "Run `standclear recover`: it rebuilds the database from the pictures and journals."


class LibraryClosed(StorageError):
    """The service is stopping."""

    code = "library_closed"
    status = 503
    title = "The library is closed"
    hint = "Start the service again."


class NoPreview(Invalid):
    """No picture can be made from this original."""

    code = "no_preview"
    title = "There is no preview of this original"
    hint = "Download the original and open it in a program that knows its format."


class KeyReused(Conflict):
    """One Idempotency-Key, two different requests."""

    code = "key_reused"
    title = "This Idempotency-Key belongs to another request"
    hint = "Use a new key for each new request."


_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_READ_ONLY = {errno.EROFS, errno.EACCES, errno.EPERM}


def from_os_error(error: OSError, doing: str) -> StorageError:
    """The library's own error for an error of the operating system, with a sentence."""
    reason = error.strerror or str(error)
    if error.errno in _FULL:
        return DiskFull(f"There is no room left on the library's disk for {doing}: {reason}.")
    if error.errno in _READ_ONLY:
        return LibraryReadOnly(f"The library's folder refuses {doing}: {reason}.")
    return StorageError(f"The library's disk failed at {doing}: {reason}.")


def from_database_error(error: BaseException, doing: str) -> StorageError:
    """The same for an error of SQLite, by its result code."""
    code = (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF
    if code == sqlite3.SQLITE_FULL:
        return DiskFull(f"There is no room left on the library's disk for {doing}.")
    if code in {sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_CANTOPEN}:
        return LibraryReadOnly(f"The library's database refuses {doing}: {error}.")
    if code in {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}:
        return LibraryDamaged(
            f"The library's database is damaged ({error}). Stop the service and run "
            "`standclear recover` on this folder; the pictures are not touched by this."
        )
    return StorageError(f"The library's database failed at {doing}: {error}.")


@contextmanager
def told_as_storage(doing: str) -> Iterator[None]:
    """Within: errors of disk and database come out as :class:`StorageError` kinds."""
    try:
        yield
    except StandclearError:
        raise
    except OSError as error:
        raise from_os_error(error, doing) from error
    except DBAPIError as error:
        raise from_database_error(error.orig or error, doing) from error
    except sqlite3.Error as error:
        raise from_database_error(error, doing) from error
