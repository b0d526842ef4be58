"""File systems that fail, kill or forget at the step of a test's choice."""

import errno
import os
import shutil
import signal
import threading
from collections.abc import Callable
from pathlib import Path

from standclear.library.disk import Disk

#: The steps of a keep that can fail, in the order they are made.
STEPS = ("create", "write", "fsync", "rename", "fsync_dir", "before_commit")


class WatchedDisk(Disk):
    """Calls ``watch(step, path)`` before each step. Steps of the journal's own thread are not
    counted, since nobody can say when they come."""

    def __init__(self, watch: Callable[[str, Path | None], None]) -> None:
        self.watch = watch
        self.names: dict[int, Path] = {}

    def _before(self, step: str, path: Path | None) -> None:
        if threading.current_thread().name != "journal":
            self.watch(step, path)

    def create(self, path: Path) -> int:
        self._before("create", path)
        descriptor = super().create(path)
        self.names[descriptor] = path
        return descriptor

    def open_append(self, path: Path) -> int:
        self._before("open_append", path)
        descriptor = super().open_append(path)
        self.names[descriptor] = path
        return descriptor

    def write(self, descriptor: int, data: bytes) -> None:
        self._before("write", self.names[descriptor])
        super().write(descriptor, data[: len(data) // 2])
        self._before("write the rest", self.names[descriptor])
        super().write(descriptor, data[len(data) // 2 :])

    def fsync(self, descriptor: int) -> None:
        self._before("fsync", self.names[descriptor])
        super().fsync(descriptor)

    def close(self, descriptor: int) -> None:
        self._before("close", self.names.pop(descriptor))
        super().close(descriptor)

    def rename(self, old: Path, new: Path) -> None:
        self._before("rename", new)
        super().rename(old, new)

    def fsync_dir(self, folder: Path) -> None:
        self._before("fsync_dir", folder)
        super().fsync_dir(folder)

    def make_folder(self, folder: Path) -> None:
        self._before("make_folder", folder)
        super().make_folder(folder)

    def unlink(self, path: Path) -> None:
        self._before("unlink", path)
        super().unlink(path)

    def before_commit(self) -> None:
        self._before("before_commit", None)

    def after_commit(self) -> None:
        self._before("after_commit", None)


class FailingDisk(WatchedDisk):
    """Raises once, at the ``count``-th coming of ``step``, when armed."""

    def __init__(self) -> None:
        super().__init__(self._fail)
        self.step, self.left, self.error = "", 0, errno.EIO

    def arm(self, step: str, count: int = 1, error: int = errno.EIO) -> None:
        self.step, self.left, self.error = step, count, error

    def _fail(self, step: str, _path: Path | None) -> None:
        if step == self.step and self.left:
            self.left -= 1
            if not self.left:
                raise OSError(self.error, os.strerror(self.error))


class KillingDisk(WatchedDisk):
    """Ends the process with SIGKILL before its ``at``-th step (from 1)."""

    def __init__(self, at: int) -> None:
        super().__init__(self._count)
        self.left = at

    def _count(self, _step: str, _path: Path | None) -> None:
        self.left -= 1
        if self.left == 0:
            os.kill(os.getpid(), signal.SIGKILL)


class ForgettingDisk(WatchedDisk):
    """Knows what a power cut would cost: bytes that were not flushed, names whose folder was not.

    The strictest reading of POSIX: a file's bytes last from its fsync on, a name (made, renamed,
    removed) from its folder's fsync on. SQLite's files are taken to keep SQLite's promise.
    """

    def __init__(
        self, watch: Callable[[str, Path | None], None] = lambda _step, _path: None
    ) -> None:
        super().__init__(watch)
        self.guard = threading.RLock()
        self.flushed: dict[Path, int] = {}
        self.undo: list[tuple[Path, Callable[[Path], None]]] = []

    def create(self, path: Path) -> int:
        descriptor = super().create(path)
        with self.guard:
            self.flushed[path] = 0
        return descriptor

    def open_append(self, path: Path) -> int:
        with self.guard:
            if not path.exists():
                self.flushed[path] = 0
            self.flushed.setdefault(path, path.stat().st_size if path.exists() else 0)
        return super().open_append(path)

    def fsync(self, descriptor: int) -> None:
        super().fsync(descriptor)
        with self.guard:
            path = self.names[descriptor]
            self.flushed[path] = path.stat().st_size

    def rename(self, old: Path, new: Path) -> None:
        super().rename(old, new)
        with self.guard:
            self.flushed[new] = self.flushed.pop(old, new.stat().st_size)
            self.undo.append((new.parent, lambda root: _move_back(root, old, new)))

    def fsync_dir(self, folder: Path) -> None:
        super().fsync_dir(folder)
        with self.guard:
            self.undo = [(place, back) for place, back in self.undo if place != folder]

    def make_folder(self, folder: Path) -> None:
        super().make_folder(folder)
        with self.guard:
            self.undo.append((folder.parent, lambda root: shutil.rmtree(_in(root, folder))))

    def cut(self, library: Path, copy: Path) -> None:
        """What the library in ``library`` would be after a power cut now, as ``copy``."""
        with self.guard:
            shutil.copytree(library, copy, ignore=shutil.ignore_patterns("previews"))
            for path, size in self.flushed.items():
                left = copy / path.relative_to(library)
                if left.exists():
                    os.truncate(left, min(size, left.stat().st_size))
            for place, back in reversed(self.undo):
                if place.is_relative_to(library):
                    back(copy)


def _in(root: Path, path: Path) -> Path:
    """``path`` within a copy: everything under ``shots`` keeps its place."""
    parts = path.parts
    return root.joinpath(*parts[parts.index("shots") :])


def _move_back(root: Path, old: Path, new: Path) -> None:
    if _in(root, new).exists():
        _in(root, new).rename(_in(root, old))
