"""One second place: whole files under the names they have in the library, through fsspec.

A file is delivered under a temporary name, read back, hashed, and only then given its name; where
a store takes objects whole (S3), under its name at once. A place is known by the mark that it was
given when copying to it began. Without that mark nothing is written: an empty mount point, whose
disk was unplugged, is no place.
"""

import hashlib
import json
import os
import posixpath
import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import Any

from standclear.library import naming
from standclear.library.mirror.address import Address, errors_of, file_system
from standclear.library.mirror.failures import CopyDiffers, PlaceAway, PlaceStrange, told_as_copy

MARK_FILE = "standclear-copy.json"
_MARK_MAX = 10_000


@dataclass(frozen=True, slots=True)
class Mark:
    """What a place bears: the id of the library it copies, and its own."""

    library: str
    place: str


class Place:
    """The files at one address. Not thread safe: one thread's own.

    Names are relative, with slashes. Raises kinds of :class:`CopyError`; reading a file that is
    not there raises :class:`FileNotFoundError`.
    """

    def __init__(self, address: Address, connect: Callable[[Address], Any] = file_system) -> None:
        self.address = address
        self._connect = connect
        self._fs: Any = None

    def mark(self) -> Mark | None:
        """The mark it bears; ``None`` where there is none. Raises :class:`PlaceStrange`."""
        try:
            data = self.read(MARK_FILE)[:_MARK_MAX]
        except FileNotFoundError:
            self._must_exist()
            return None
        try:
            said = json.loads(data)
            return Mark(str(said["library"]), str(said["place"])[:32])
        except (ValueError, KeyError, TypeError) as error:
            raise PlaceStrange(
                f"The file {MARK_FILE} at {self.address.shown} cannot be read; choose another "
                "place, or remove it if it is not yours."
            ) from error

    def begin(self, library: str) -> Mark:
        """Give it a mark of its own. The folder itself must be there already."""
        self._must_exist()
        mark = Mark(library, secrets.token_hex(8))
        text = json.dumps({"library": mark.library, "place": mark.place})
        self.deliver(MARK_FILE, text.encode())
        return mark

    def read(self, name: str) -> bytes:
        """A file's bytes."""
        with self._asked() as fs:
            return bytes(fs.cat_file(self._path(name)))

    def sha256(self, name: str) -> str:
        """The SHA-256 (hex) of what the place gives back under a name."""
        return hashlib.sha256(self.read(name)).hexdigest()

    def deliver(self, name: str, data: bytes) -> None:
        """Put a file there, whole and read back, in the place of what has that name.

        Raises :class:`CopyDiffers` where other bytes came back; nothing has the name then.
        """
        with self._asked() as fs:
            path, expected = self._path(name), hashlib.sha256(data).hexdigest()
            self._deliver(fs, path, data, expected)

    def _deliver(self, fs: Any, path: str, data: bytes, expected: str) -> None:
        folder, _, last = path.rpartition("/")
        half = f"{folder}/{naming.temporary(last)}"
        fs.makedirs(folder, exist_ok=True)
        fs.pipe_file(half, data)
        self._flush(half)
        if self._came_back(fs, half) != expected:
            fs.rm_file(half)
            raise self._differs(last)
        fs.mv(half, path)
        self._flush(folder)

    def _came_back(self, fs: Any, path: str) -> str:
        return hashlib.sha256(fs.cat_file(path)).hexdigest()

    def _differs(self, name: str) -> CopyDiffers:
        return CopyDiffers(
            f"{name} came back from {self.address.shown} with other bytes than were sent. That "
            "disk or line cannot be trusted; it is tried again."
        )

    def _flush(self, path: str) -> None:
        """Make it last a power cut, where that can be asked for."""

    def set_aside(self, name: str, new: str) -> None:
        """Give a file another name, which must be free."""
        with self._asked() as fs:
            fs.mv(self._path(name), self._path(new))

    def remove(self, name: str) -> None:
        """Remove a file; no error when it is gone already."""
        with self._asked() as fs, suppress(FileNotFoundError):
            fs.rm_file(self._path(name))

    def names(self) -> Iterator[str]:
        """All files there, as relative names, in order."""
        with self._asked() as fs:
            found = fs.find(self._path(""))
        root = self._path("").lstrip("/")
        for path in sorted(found):
            yield str(path).lstrip("/").removeprefix(root).lstrip("/")

    def leave(self) -> None:
        """Let the connection go; the next use makes a new one."""
        self._fs = None

    def _must_exist(self) -> None:
        with self._asked() as fs:
            there = fs.isdir(self._path(""))
        if not there:
            raise PlaceAway(
                f"{self.address.shown} is not there. Plug the disk in, or make the folder."
            )

    def _path(self, name: str) -> str:
        return posixpath.join(self.address.root, name) if name else self.address.root

    @contextmanager
    def _asked(self) -> Iterator[Any]:
        """The file system, connected; after a failure the next use connects anew."""
        try:
            with told_as_copy(self.address.shown, errors_of(self.address)):
                if self._fs is None:
                    self._fs = self._connect(self.address)
                yield self._fs
        except FileNotFoundError:
            raise
        except BaseException:
            self.leave()
            raise


class FolderPlace(Place):
    """A folder on another disk, or a network share: flushed as the library's own files are."""

    def _flush(self, path: str) -> None:
        descriptor = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
        try:
            os.fsync(descriptor)
            if hasattr(os, "posix_fadvise"):  # read back from the disk, not from memory
                os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_DONTNEED)
        finally:
            os.close(descriptor)


class ObjectPlace(Place):
    """A store that takes objects whole: there is no half file, and no folder to make."""

    def _deliver(self, fs: Any, path: str, data: bytes, expected: str) -> None:
        fs.pipe_file(path, data)
        if self._came_back(fs, path) != expected:
            fs.rm_file(path)
            raise self._differs(path.rpartition("/")[2])

    def _must_exist(self) -> None:
        bucket = self.address.root.partition("/")[0]
        with self._asked() as fs:
            there = fs.exists(bucket)
        if not there:
            raise PlaceAway(f"There is no bucket {bucket} at the store. Make it first.")


_KINDS: dict[str, type[Place]] = {"file": FolderPlace, "s3": ObjectPlace}


def place_at(address: Address) -> Place:
    """The place at an address. Nothing is asked of it yet."""
    return _KINDS.get(address.protocol, Place)(address)
