"""Original files on disk, byte for byte as the camera gave them.

Promise 1 in order: write under a temporary name, flush the file, rename, flush the folder. Only
after that is the record committed (``keeping.py``). A file with its final name is therefore whole.
What fails before the rename is removed; what fails after it is a whole picture that nothing
records, and goes to the folder ``unclaimed`` beside it. Only :meth:`Store.remove`, which emptying
the bin calls, removes originals.
"""

import hashlib
import logging
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from standclear.cameras.base import Original
from standclear.library import naming
from standclear.library.disk import Disk

UNCLAIMED = "unclaimed"
log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Stored:
    """An original that is whole on disk: its name, size in bytes and SHA-256 (hex)."""

    name: str
    size: int
    sha256: str


class Store:
    """The files under ``<library>/shots``."""

    def __init__(self, shots: Path, disk: Disk) -> None:
        self.shots = shots
        self._disk = disk
        self._hashers = ThreadPoolExecutor(max_workers=2, thread_name_prefix="sha256")

    def close(self) -> None:
        """End the hashing threads."""
        self._hashers.shutdown()

    def path(self, folder: str, name: str) -> Path:
        """Where an original lies."""
        return self.shots / folder / name

    def make_folder(self, folder: str) -> None:
        """Make a shot's folder. Its name is on disk on return."""
        self._disk.make_folder(self.shots / folder)
        self._disk.fsync_dir(self.shots)

    def remove_empty(self, folder: str) -> None:
        """Take back a folder that was made for nothing."""
        with suppress(OSError):
            (self.shots / folder).rmdir()

    def taken(self, folder: str, names: Sequence[str]) -> bool:
        """Whether one of the names is in use, be it by a file that is not ours or set aside."""
        place = self.shots / folder
        return any((place / n).exists() or (place / UNCLAIMED / n).exists() for n in names)

    def write(
        self, folder: str, names: Sequence[str], originals: Sequence[Original]
    ) -> list[Stored]:
        """Write the files of one exposure. All of them are on disk, flushed, on return.

        Raises :class:`OSError`; then none of them is under its final name.
        """
        place = self.shots / folder
        digests = [self._hashers.submit(_sha256, original.data) for original in originals]
        halves = [place / naming.temporary(name) for name in names]
        whole: list[str] = []
        try:
            for half, original in zip(halves, originals, strict=True):
                self._write_half(half, original.data)
            for half, name in zip(halves, names, strict=True):
                self._disk.rename(half, place / name)
                whole.append(name)
            self._disk.fsync_dir(place)
        except OSError:
            self._discard(halves)
            self.set_aside(folder, whole)
            raise
        return [
            Stored(name, len(original.data), digest.result())
            for name, original, digest in zip(names, originals, digests, strict=True)
        ]

    def _write_half(self, half: Path, data: bytes) -> None:
        self._disk.unlink(half)
        descriptor = self._disk.create(half)
        try:
            self._disk.write(descriptor, data)
            self._disk.fsync(descriptor)
        finally:
            self._disk.close(descriptor)

    def _discard(self, halves: Sequence[Path]) -> None:
        for half in halves:
            with suppress(OSError):
                self._disk.unlink(half)

    def set_aside(self, folder: str, names: Sequence[str]) -> list[str]:
        """Move whole files that nothing records to ``unclaimed``; never over another file.

        A file that cannot be moved now stays, and is moved when the library is next opened.
        """
        moved = []
        for name in names:
            try:
                moved.append(self._set_aside(self.shots / folder, name))
            except OSError as error:
                log.warning("%s/%s could not be set aside: %s", folder, name, error)
        return moved

    def _set_aside(self, place: Path, name: str) -> str:
        aside = place / UNCLAIMED
        if not aside.is_dir():
            self._disk.make_folder(aside)
        new, count = aside / name, 1
        while new.exists():
            count += 1
            new = aside / f"{Path(name).stem}_{count}{Path(name).suffix}"
        self._disk.rename(place / name, new)
        self._disk.fsync_dir(aside)
        self._disk.fsync_dir(place)
        return f"{place.name}/{UNCLAIMED}/{new.name}"

    def claim_back(self, folder: str, names: Sequence[str]) -> list[str]:
        """Of these recorded names, move back those that were set aside. Returns the rest."""
        place = self.shots / folder
        rest = []
        for name in names:
            if (place / UNCLAIMED / name).exists():
                self._disk.rename(place / UNCLAIMED / name, place / name)
                self._disk.fsync_dir(place)
            else:
                rest.append(name)
        return rest

    def unclaimed(self) -> list[Path]:
        """All files set aside, in order."""
        return sorted(self.shots.glob(f"*/{UNCLAIMED}/*"))

    def remove(self, folder: str, names: Sequence[str]) -> None:
        """Remove originals for good. Nothing but emptying the bin calls this."""
        for name in names:
            self._disk.unlink(self.shots / folder / name)
        self._disk.fsync_dir(self.shots / folder)


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
