"""The few things that the library asks of a file system, in one place so that tests can fail them.

Every byte that promise 1 speaks of goes through a :class:`Disk`. A test passes one that fails,
kills the process or forgets what was not flushed, at the step of its choice.
"""

import os
from pathlib import Path


class Disk:
    """The file system of this machine."""

    def create(self, path: Path) -> int:
        """Open a new file for writing; it must not exist yet. Returns the descriptor."""
        return os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o644)

    def open_append(self, path: Path) -> int:
        """Open a file to add to its end, made if missing. Returns the descriptor."""
        return os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND | os.O_CLOEXEC, 0o644)

    def write(self, descriptor: int, data: bytes) -> None:
        """Write all of ``data``; a short write is continued until the system refuses."""
        view = memoryview(data)
        while view:
            view = view[os.write(descriptor, view) :]

    def fsync(self, descriptor: int) -> None:
        """Flush a file: when this returns, its bytes survive a power cut."""
        os.fsync(descriptor)

    def close(self, descriptor: int) -> None:
        """Close a descriptor."""
        os.close(descriptor)

    def rename(self, old: Path, new: Path) -> None:
        """Give a file its new name in one step, within one file system."""
        old.rename(new)

    def fsync_dir(self, folder: Path) -> None:
        """Flush a folder: when this returns, the names in it survive a power cut."""
        descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)

    def make_folder(self, folder: Path) -> None:
        """Make one folder; it must not exist yet."""
        folder.mkdir()

    def unlink(self, path: Path) -> None:
        """Remove a file; no error when it is gone already."""
        path.unlink(missing_ok=True)

    def before_commit(self) -> None:
        """Called between the last statement of a transaction and its commit."""

    def after_commit(self) -> None:
        """Called between a commit and whatever follows it."""
