"""One service per library: a lock on ``library.lock`` that the system lets go with the process."""

import fcntl
import os
from pathlib import Path

from standclear.library.failures import LibraryInUse, told_as_storage

LOCK_FILE = "library.lock"


class Lock:
    """Held from construction to :meth:`release`; a killed process holds nothing."""

    def __init__(self, folder: Path) -> None:
        with told_as_storage("opening its lock"):
            self._descriptor = os.open(
                folder / LOCK_FILE, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644
            )
        try:
            fcntl.flock(self._descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            os.close(self._descriptor)
            raise LibraryInUse(
                f"The library in {folder} is in use by another service. Stop that one first, "
                "or start this one on another folder."
            ) from error

    def release(self) -> None:
        """Let another service have it."""
        if self._descriptor >= 0:
            os.close(self._descriptor)
            self._descriptor = -1
