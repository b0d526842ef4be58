"""What can be wrong with a second place, each with a sentence that says what to do.

What a server or a library said is never handed on as it came: it may hold what nobody should read
in a log or on a page. Only the kind of the failure is told.
"""

import errno
from collections.abc import Iterator
from contextlib import contextmanager

from fsspec.exceptions import FSTimeoutError

from standclear.errors import StandclearError


class CopyError(StandclearError):
    """The second copy could not be made or read; the library itself is well."""

    code = "copy_failed"
    status = 503
    title = "The second copy is behind"
    hint = "Look at the place of the second copy; copying goes on by itself."


class PlaceAway(CopyError):
    """The place is not there or does not answer."""

    code = "copy_away"


class PlaceRefuses(CopyError):
    """The place is there and does not let us in, or may not be written to."""

    code = "copy_refused"


class PlaceFull(CopyError):
    """There is no room there."""

    code = "copy_full"


class PlaceStrange(CopyError):
    """The place is not the one that it was, or holds the copy of another library."""

    code = "copy_strange"
    status = 409


class CopyDiffers(CopyError):
    """What was read back is not what was written, or the original is not as it was kept."""

    code = "copy_differs"


_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_REFUSED = {errno.EACCES, errno.EPERM, errno.EROFS}


@contextmanager
def told_as_copy(shown: str, theirs: tuple[type[Exception], ...] = ()) -> Iterator[None]:
    """Within: what the file system at ``shown`` raises comes out as a :class:`CopyError`.

    ``theirs`` are the errors of the library that speaks with it. A file that is not there stays
    :class:`FileNotFoundError`: only the caller knows whether it should have been.
    """
    try:
        yield
    except (StandclearError, FileNotFoundError):
        raise
    except PermissionError as error:
        raise _refuses(shown) from error
    except (TimeoutError, FSTimeoutError) as error:
        raise PlaceAway(f"{shown} does not answer; is it switched on and reachable?") from error
    except OSError as error:
        raise _of_system(shown, error) from error
    except theirs as error:
        raise _of_library(shown, error) from error


def _of_system(shown: str, error: OSError) -> CopyError:
    if error.errno in _FULL:
        return _full(shown)
    if error.errno in _REFUSED:
        return _refuses(shown)
    return PlaceAway(f"{shown} cannot be reached or failed ({_kind(error)}).")


def _of_library(shown: str, error: Exception) -> CopyError:
    kind = type(error).__name__
    if kind in {"HostKeyNotVerifiable"}:
        return PlaceRefuses(
            f"The key of {shown} is not known here. Connect once with ssh from this account, "
            "compare the key, and accept it."
        )
    if kind in {"PermissionDenied", "SFTPPermissionDenied", "NoCredentialsError", "KeyImportError"}:
        return _refuses(shown)
    if kind in {"SFTPNoSpaceOnFilesystem", "SFTPQuotaExceeded"}:
        return _full(shown)
    return PlaceAway(f"{shown} cannot be reached or failed ({kind}).")


def _full(shown: str) -> PlaceFull:
    return PlaceFull(f"There is no room left at {shown}. Make room there; copying goes on then.")


def _refuses(shown: str) -> PlaceRefuses:
    return PlaceRefuses(f"{shown} does not let us in or may not be written to; look at its rights.")


def _kind(error: OSError) -> str:
    return errno.errorcode.get(error.errno or 0, type(error).__name__)
