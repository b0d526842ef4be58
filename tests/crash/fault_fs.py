"""A file system of its own, in memory, that fails, kills or forgets at the step of a test's choice.

It is mounted through FUSE and serves whatever works on it: our own writes, SQLite's and FFmpeg's
alike. Beside what is seen it keeps what a power cut would leave, by the strictest reading of POSIX:
a file's bytes last from its fsync on, a name (made, moved, removed) from its folder's fsync on.

Run as a process: ``python -m tests.crash.fault_fs MOUNTPOINT``, with commands as JSON lines on its
standard input and answers on its standard output (see ``fault_mount.py``).
"""

import errno
import itertools
import os
import signal
import stat
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import PurePosixPath
from typing import Any

import mfusepy

#: The file that a child writes what it was told into; the one of the camera's answer.
SAID, CAMERA = "said", "camera"
_FULL_STEPS = frozenset({"create", "mkdir", "write", "truncate"})


@dataclass
class File:
    """``flushed`` is what its last fsync saw; ``None`` before the first."""

    data: bytearray = field(default_factory=bytearray)
    flushed: bytes = b""
    changed_ns: int = 0


@dataclass
class Folder:
    """``flushed`` are the names that its last fsync saw."""

    names: dict[str, "File | Folder"] = field(default_factory=dict)
    flushed: dict[str, "File | Folder"] = field(default_factory=dict)


@dataclass
class Order:
    """What is to happen at the ``at``-th step from now: ``fail`` (once), ``stay`` (from then on),
    ``kill`` (the process ``pid``), ``watch`` (keep what a power cut would leave at every step).
    ``eager``: names last at once and bytes when flushed, as where a file system writes its names
    ahead of the bytes; else both last only when flushed."""

    what: str = ""
    at: int = 0
    error: int = errno.EIO
    pid: int = 0
    eager: bool = False


class FaultFs(mfusepy.Operations):  # type: ignore[misc]
    """The file system. Steps are counted within ``/run`` only, SQLite's shared memory aside."""

    use_ns = True

    def __init__(self) -> None:
        self.guard = threading.RLock()
        self.root = Folder()
        self.order = Order()
        self.steps: list[tuple[str, str]] = []
        self.left: list[dict[str, Any]] = []  # what a cut would leave, by step
        self.broken = False
        self._handles: dict[int, File] = {}
        self._next = itertools.count(1)

    # -- the order ---------------------------------------------------------------------------

    def step(self, kind: str, path: str) -> None:
        """Before each step: count it, and fail or kill where that was ordered."""
        if not path.startswith("/run/") or path.endswith("-shm") or path == f"/run/{SAID}":
            return
        self.steps.append((kind, path))
        if self.order.what == "watch":
            self.left.append(self.after_cut())
        due = len(self.steps) == self.order.at
        if due and self.order.what == "kill":
            os.kill(self.order.pid, signal.SIGKILL)
            raise mfusepy.FuseOSError(errno.EINTR)
        if due and self.order.what == "fail":
            raise mfusepy.FuseOSError(self.order.error)
        if self.order.what == "stay" and len(self.steps) >= self.order.at:
            self.broken = True
        if self.broken and (self.order.error != errno.ENOSPC or kind in _FULL_STEPS):
            raise mfusepy.FuseOSError(self.order.error)

    def after_cut(self) -> dict[str, Any]:
        """What would be left of ``/run`` now: files by path, folders as ``None``; what was said."""
        left: dict[str, Any] = {}
        run = self.root.names.get("run")
        if isinstance(run, Folder):
            _flushed(run, "", left, eager=self.order.eager)
            said = run.names.get(SAID)
            left[SAID] = bytes(said.data) if isinstance(said, File) else b""
        return left

    # -- finding -----------------------------------------------------------------------------

    def _node(self, path: str) -> "File | Folder":
        node: File | Folder = self.root
        for part in PurePosixPath(path).parts[1:]:
            if not isinstance(node, Folder):
                raise mfusepy.FuseOSError(errno.ENOTDIR)
            if part not in node.names:
                raise mfusepy.FuseOSError(errno.ENOENT)
            node = node.names[part]
        return node

    def _folder(self, path: str) -> Folder:
        node = self._node(path)
        if not isinstance(node, Folder):
            raise mfusepy.FuseOSError(errno.ENOTDIR)
        return node

    def _beside(self, path: str) -> tuple[Folder, str]:
        parent, name = os.path.split(path)
        return self._folder(parent), name

    def _open(self, node: "File | Folder") -> int:
        handle = next(self._next)
        if isinstance(node, File):
            self._handles[handle] = node
        return handle

    # -- what is asked of it -----------------------------------------------------------------

    def getattr(self, path: str, fh: int | None = None) -> dict[str, Any]:
        node = self._handles[fh] if fh in self._handles else self._node(path)
        if isinstance(node, Folder):
            return {"st_mode": stat.S_IFDIR | 0o755, "st_nlink": 2}
        return {
            "st_mode": stat.S_IFREG | 0o644,
            "st_nlink": 1,
            "st_size": len(node.data),
            "st_mtime": node.changed_ns,
            "st_ctime": node.changed_ns,
        }

    def readdir(self, path: str, fh: int) -> list[str]:
        return [".", "..", *self._folder(path).names]

    def mkdir(self, path: str, mode: int) -> int:
        self.step("mkdir", path)
        folder, name = self._beside(path)
        folder.names[name] = Folder()
        return 0

    def rmdir(self, path: str) -> int:
        self.step("rmdir", path)
        if self._folder(path).names:
            raise mfusepy.FuseOSError(errno.ENOTEMPTY)
        folder, name = self._beside(path)
        del folder.names[name]
        return 0

    def create(self, path: str, mode: int, fi: Any = None) -> int:
        self.step("create", path)
        folder, name = self._beside(path)
        made = File(changed_ns=time.time_ns())
        folder.names[name] = made
        return self._open(made)

    def open(self, path: str, flags: int) -> int:
        return self._open(self._node(path))

    def read(self, path: str, size: int, offset: int, fh: int) -> bytes:
        return bytes(self._handles[fh].data[offset : offset + size])

    def write(self, path: str, data: bytes, offset: int, fh: int) -> int:
        self.step("camera" if path == f"/run/{CAMERA}" else "write", path)
        file = self._handles[fh]
        if offset > len(file.data):
            file.data.extend(bytes(offset - len(file.data)))
        file.data[offset : offset + len(data)] = data
        file.changed_ns = time.time_ns()
        return len(data)

    def truncate(self, path: str, length: int, fh: int | None = None) -> int:
        self.step("truncate", path)
        node = self._handles[fh] if fh in self._handles else self._node(path)
        assert isinstance(node, File)
        del node.data[length:]
        node.data.extend(bytes(length - len(node.data)))
        node.changed_ns = time.time_ns()
        return 0

    def unlink(self, path: str) -> int:
        self.step("unlink", path)
        folder, name = self._beside(path)
        self._node(path)
        del folder.names[name]
        return 0

    def rename(self, old: str, new: str) -> int:
        self.step("rename", new)
        node = self._node(old)
        folder, name = self._beside(old)
        other, new_name = self._beside(new)
        del folder.names[name]
        other.names[new_name] = node
        return 0

    def fsync(self, path: str, datasync: int, fh: int) -> int:
        self.step("fsync", path)
        file = self._handles[fh]
        file.flushed = bytes(file.data)
        return 0

    def fsyncdir(self, path: str, datasync: int, fh: int) -> int:
        self.step("fsyncdir", path)
        folder = self._folder(path)
        folder.flushed = dict(folder.names)
        return 0

    def release(self, path: str, fh: int) -> int:
        self._handles.pop(fh, None)
        return 0

    def opendir(self, path: str) -> int:
        self._folder(path)
        return 0

    def chmod(self, path: str, mode: int) -> int:
        return 0

    def utimens(self, path: str, times: Any = None) -> int:
        return 0

    def statfs(self, path: str) -> dict[str, int]:
        return {"f_bsize": 4096, "f_frsize": 4096, "f_blocks": 1 << 20, "f_bavail": 1 << 19,
                "f_bfree": 1 << 19, "f_namemax": 255}  # fmt: skip


def _flushed(folder: Folder, path: str, left: dict[str, Any], *, eager: bool) -> None:
    for name, node in (folder.names if eager else folder.flushed).items():
        if isinstance(node, Folder):
            left[f"{path}{name}/"] = None
            _flushed(node, f"{path}{name}/", left, eager=eager)
        elif name not in (SAID, CAMERA):
            left[f"{path}{name}"] = node.flushed


def _guarded(method: Callable[..., Any], guard: threading.RLock) -> Callable[..., Any]:
    def called(*arguments: Any) -> Any:
        with guard:
            return method(*arguments)

    return called


def serve(mountpoint: str) -> None:
    """Mount, answer commands, until told to leave."""
    fs = FaultFs()
    for name in ("getattr", "readdir", "mkdir", "rmdir", "create", "open", "read", "write",
                 "truncate", "unlink", "rename", "fsync", "fsyncdir", "release"):  # fmt: skip
        setattr(fs, name, _guarded(getattr(fs, name), fs.guard))
    from tests.crash.fault_mount import answer

    threading.Thread(target=answer, args=(fs,), daemon=True).start()
    mfusepy.FUSE(
        fs, mountpoint, foreground=True, nothreads=True, fsname="standclear-faults",
        hard_remove=True, attr_timeout=0, entry_timeout=0, negative_timeout=0,
    )  # fmt: skip


if __name__ == "__main__":
    serve(sys.argv[1])
