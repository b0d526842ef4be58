"""What tests of the library share: pictures to keep, a clock to set, ways to look at a shot."""

import hashlib
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from standclear.cameras.base import Original, Taken
from standclear.library.disk import Disk
from standclear.library.library import Library

#: A file system in memory where there is one, for tests of what the library says rather than of
#: what reaches the disk: they write thousands of pictures.
IN_MEMORY = Path("/dev/shm") if Path("/dev/shm").is_dir() else Path(tempfile.gettempdir())

BEGIN = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)


@dataclass
class SetClock:
    """A clock that stands still until it is set."""

    time: datetime = BEGIN

    def now(self) -> datetime:
        return self.time

    def monotonic(self) -> float:
        return self.time.timestamp()

    def advance(self, **by: float) -> None:
        self.time += timedelta(**by)


def original(data: bytes, kind: str = "jpg", width: int = 64, height: int = 48) -> Original:
    media = {"jpg": "image/jpeg", "png": "image/png", "tif": "image/tiff"}
    return Original(data, media.get(kind, "application/octet-stream"), kind, width, height)


def taken(*data: bytes, kinds: tuple[str, ...] = ("jpg",)) -> Taken:
    """One exposure of these files; each file's bytes need not be a picture."""
    files = tuple(original(d, k) for d, k in zip(data, kinds, strict=True))
    return Taken(files, BEGIN, {"shutter": "1/50", "iso": "100"})


def opened(folder: Path, disk: Disk | None = None, clock: SetClock | None = None) -> Library:
    return Library.open(folder, clock or SetClock(), disk)


def keep(library: Library, shot: str, text: str = "cork", **how: object) -> str:
    """Keep an exposure whose only file says ``text``. Returns its id."""
    return library.keep(shot, taken(text.encode()), camera="toy", **how).id  # type: ignore[arg-type]


def order(library: Library, shot: str) -> list[str]:
    """The ids in the shot's order, read page by page; numbers are checked on the way."""
    found, after = [], None
    while True:
        page = library.exposures(shot, after=after, limit=7)
        found += page.items
        after = page.next
        if after is None:
            break
    assert [e.number for e in found] == list(range(1, len(found) + 1))
    return [e.id for e in found]


def texts(library: Library, shot: str) -> list[str]:
    """What the files say, in the shot's order."""
    return [library.original_path(shot, one).read_text() for one in order(library, shot)]


def sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
