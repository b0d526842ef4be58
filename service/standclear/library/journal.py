"""A shot's journal, ``shot.jsonl``: one JSON line per edit, only ever added to.

It carries what is needed to rebuild the shot without the database. A line is written right after
its commit, so that a killed process loses none, and flushed by a thread of its own, so that no
press waits for it; but never is a second line of a journal written while the first is not flushed.
A power cut costs at most the last line, and opening the library writes that again from the
database: only a cut that also destroys the database loses it for good.
"""

import json
import logging
import threading
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from standclear.library.disk import Disk

JOURNAL_FILE = "shot.jsonl"
_TAIL = 1 << 16
_SEQUENCE_MAX = 1 << 53
log = logging.getLogger(__name__)


class Journal:
    """Writes journals and flushes them in the background; :meth:`close` flushes the rest."""

    def __init__(self, disk: Disk) -> None:
        self._disk = disk
        self._changed = threading.Condition()
        self._unflushed: set[Path] = set()
        self._failed: set[Path] = set()
        self._closing = False
        self._thread = threading.Thread(target=self._flush_all, name="journal", daemon=True)
        self._thread.start()

    def append(self, path: Path, line: Mapping[str, Any], *, flush: bool = False) -> None:
        """Add a line. With ``flush`` it is on disk on return. Raises :class:`OSError`."""
        with self._changed:
            self._changed.wait_for(lambda: path not in self._unflushed)
        self._write(path, json.dumps(line, separators=(",", ":")).encode() + b"\n", flush)
        if not flush:
            with self._changed:
                self._unflushed.add(path)
                self._changed.notify_all()

    def _write(self, path: Path, data: bytes, flush: bool) -> None:
        descriptor = self._disk.open_append(path)
        try:
            self._disk.write(descriptor, data)
            if flush:
                self._disk.fsync(descriptor)
        finally:
            self._disk.close(descriptor)

    def failed(self) -> set[Path]:
        """Journals that could not be flushed since this was last asked."""
        with self._changed:
            failed, self._failed = self._failed, set()
            return failed

    def settle(self) -> None:
        """Wait until every line is flushed."""
        with self._changed:
            self._changed.wait_for(lambda: not self._unflushed)

    def close(self) -> None:
        """Flush what is left and end the thread."""
        with self._changed:
            self._closing = True
            self._changed.notify_all()
        self._thread.join()

    def _flush_all(self) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._unflushed or self._closing)
                if not self._unflushed:
                    return
                path = next(iter(self._unflushed))
            ok = self._flush(path)
            with self._changed:
                self._unflushed.discard(path)
                if not ok:
                    self._failed.add(path)
                self._changed.notify_all()

    def _flush(self, path: Path) -> bool:
        try:
            self._write(path, b"", flush=True)
        except OSError as error:
            log.warning("journal %s could not be flushed: %s", path, error)
            return False
        return True


def read(path: Path) -> Iterator[Mapping[str, Any] | None]:
    """The lines of a journal in order; ``None`` for one that cannot be read."""
    with path.open("rb") as file:
        for line in file:
            yield parse(line)


def last_sequence(path: Path) -> int:
    """``n`` of the last line; 0 where there is no journal, or its last line is torn."""
    try:
        with path.open("rb") as file:
            size = file.seek(0, 2)
            return _last_sequence(file, size)
    except FileNotFoundError:
        return 0


def _last_sequence(file: Any, size: int) -> int:
    reach = _TAIL
    while True:
        start = max(0, size - reach)
        file.seek(start)
        tail = file.read()
        if not tail.endswith(b"\n"):
            return 0
        lines = tail[:-1].split(b"\n")
        if len(lines) > 1 or start == 0:
            line = parse(lines[-1])
            return int(line["n"]) if line is not None else 0
        reach *= 4


def is_torn(path: Path) -> bool:
    """Whether the journal ends in the middle of a line."""
    try:
        with path.open("rb") as file:
            if file.seek(0, 2) == 0:
                return False
            file.seek(-1, 2)
            return file.read() != b"\n"
    except FileNotFoundError:
        return False


def parse(line: bytes) -> Mapping[str, Any] | None:
    """One line of a journal; ``None`` where it cannot be read as such."""
    try:
        value = json.loads(line)
    except (ValueError, RecursionError):
        return None
    number = value.get("n") if isinstance(value, dict) else None
    return value if isinstance(number, int) and 0 < number < _SEQUENCE_MAX else None
