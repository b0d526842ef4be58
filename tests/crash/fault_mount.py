"""Mounts the file system of ``fault_fs.py`` and gives it orders, over a pipe of pickles."""

import os
import pickle
import shutil
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.crash.fault_fs import SAID, FaultFs, Order
from tests.waiting import until

ROOT = Path(__file__).resolve().parents[2]


def answer(fs: FaultFs) -> None:
    """The server's side: one order after the other, until there are no more."""
    orders, answers = os.fdopen(0, "rb"), os.fdopen(1, "wb")
    while True:
        try:
            what, argument = pickle.load(orders)
        except EOFError:
            return
        with fs.guard:
            found = _obey(fs, what, argument)
        pickle.dump(found, answers)
        answers.flush()


def _obey(fs: FaultFs, what: str, argument: Any) -> Any:
    if what == "order":
        fs.order, fs.broken, fs.steps, fs.left = argument, False, [], []
    elif what == "heal":
        fs.order, fs.broken = Order(), False
    elif what == "flush":
        _flush_all(fs)
    elif what == "steps":
        return list(fs.steps)
    elif what == "left":
        return [*fs.left, fs.after_cut()]
    return None


def _flush_all(fs: FaultFs) -> None:
    """As after a long rest: everything there is has reached the disk."""
    waiting: list[Any] = [fs.root]
    while waiting:
        folder = waiting.pop()
        folder.flushed = dict(folder.names)
        for node in folder.names.values():
            if hasattr(node, "names"):
                waiting.append(node)
            else:
                node.flushed = bytes(node.data)


class Mount:
    """The test's side: the mounted folder, and the orders."""

    def __init__(self, place: Path) -> None:
        self.place = place
        self._server = subprocess.Popen(
            [sys.executable, "-m", "tests.crash.fault_fs", str(place)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=ROOT,
        )  # fmt: skip
        until(lambda: place.is_mount() or self._server.poll() is not None, 30, "for the mount")
        assert self._server.poll() is None, "the file system did not start"
        self._talk = threading.Lock()

    @property
    def run(self) -> Path:
        """Where steps are counted."""
        return self.place / "run"

    def _ask(self, what: str, argument: Any = None) -> Any:
        assert self._server.stdin is not None
        assert self._server.stdout is not None
        with self._talk:
            pickle.dump((what, argument), self._server.stdin)
            self._server.stdin.flush()
            return pickle.load(self._server.stdout)

    def fresh(self, image: Path) -> None:
        """``/run`` anew, with the library of ``image`` in it, all of it on disk."""
        self._ask("heal")
        shutil.rmtree(self.run, ignore_errors=True)
        shutil.copytree(image, self.run / "library")
        (self.run / SAID).touch()
        self._ask("flush")

    def order(self, order: Order) -> None:
        """From here on steps are counted."""
        self._ask("order", order)

    def heal(self) -> None:
        """Nothing fails any more."""
        self._ask("heal")

    def steps(self) -> list[tuple[str, str]]:
        """The steps since the last order: kind and path."""
        found: list[tuple[str, str]] = self._ask("steps")
        return found

    def left(self) -> list[dict[str, Any]]:
        """What a power cut would have left at each step, and at the end."""
        found: list[dict[str, Any]] = self._ask("left")
        return found

    def close(self) -> None:
        """Unmount, end the server."""
        subprocess.run(["umount", "-l", str(self.place)], check=False)
        assert self._server.stdin is not None
        assert self._server.stdout is not None
        self._server.stdin.close()
        try:
            self._server.wait(10)
        except subprocess.TimeoutExpired:
            self._server.kill()
            self._server.wait(10)
        self._server.stdout.close()


def laid_out(left: dict[str, Any], folder: Path) -> Path:
    """What a power cut left, as a plain folder. Returns the library in it."""
    for path, data in left.items():
        target = folder / path
        if data is None:
            target.mkdir(parents=True, exist_ok=True)
        elif path != SAID:
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(data)
    return folder / "library"


@contextmanager
def mounted(place: Path) -> Iterator[Mount]:
    """The file system at ``place``; skips where FUSE cannot be had."""
    if not os.access("/dev/fuse", os.R_OK | os.W_OK) or shutil.which("fusermount3") is None:
        pytest.skip("needs FUSE: /dev/fuse and Debian's package fuse3")
    place.mkdir(parents=True, exist_ok=True)
    mount = Mount(place)
    try:
        yield mount
    finally:
        mount.close()
