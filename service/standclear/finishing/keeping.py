"""A finished file or none: written under a temporary name, flushed, then given its own."""

import os
import shutil
import uuid
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from standclear.finishing.problems import TargetError

_ENDING = ".unfinished"


@contextmanager
def unfinished(target: Path) -> Iterator[Path]:
    """A path beside ``target`` to write a file or folder at; it takes the name when all is well.

    Whatever is left under the temporary name is removed when the body raises. Raises TargetError
    when the folder refuses.
    """
    draft = target.with_name(f".{target.name}.{uuid.uuid4().hex[:8]}{_ENDING}")
    try:
        _may_write(target)
        yield draft
        _flush(draft)
        draft.replace(target)
        _flush_folder(target.parent)
    except OSError as error:
        _remove(draft)
        raise TargetError(_sentence(target, error)) from error
    except BaseException:
        _remove(draft)
        raise


def sweep(folder: Path) -> list[Path]:
    """Remove what a killed export left behind in ``folder``; returns what was removed."""
    leftovers = sorted(folder.glob(f".*{_ENDING}"))
    for leftover in leftovers:
        _remove(leftover)
    return leftovers


def _may_write(target: Path) -> None:
    if target.is_dir() and any(target.iterdir()):
        raise TargetError(f"There is a folder {target.name} with something in it already.")
    if not target.parent.is_dir():
        raise TargetError(f"There is no folder {target.parent} to write to.")
    if not os.access(target.parent, os.W_OK):
        raise TargetError(f"The folder {target.parent} may not be written to.")


def _flush(draft: Path) -> None:
    files = sorted(draft.rglob("*")) if draft.is_dir() else [draft]
    for path in files:
        with path.open("rb+") as file:
            os.fsync(file.fileno())
    if draft.is_dir():
        _flush_folder(draft)


def _flush_folder(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _remove(draft: Path) -> None:
    """As far as the disk lets us; what stays goes with the next :func:`sweep`."""
    if draft.is_dir():
        shutil.rmtree(draft, ignore_errors=True)
    else:
        with suppress(OSError):
            draft.unlink(missing_ok=True)


def _sentence(target: Path, error: OSError) -> str:
    reason = error.strerror or str(error)
    return f"{target.name} could not be written to {target.parent}: {reason}."
