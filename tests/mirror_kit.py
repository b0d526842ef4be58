"""What tests of the second copy share: a library, a place, and a clock that is set by hand."""

from datetime import datetime, timedelta
from pathlib import Path

from standclear.library.library import Library
from standclear.library.mirror.address import Address, file_system, parse
from standclear.library.mirror.mirror import Mirror
from standclear.library.mirror.place import FolderPlace, Place, place_at
from tests.library_kit import SetClock, keep

HOUR_S = 3600.0


def mirror_to(
    library: Library, where: str | Path, clock: SetClock, place: Place | None = None
) -> Mirror:
    """A second copy of the library at an address; nothing is copied yet."""
    return Mirror(library, place or place_at(parse(str(where))), clock)


def settle(mirror: Mirror, clock: SetClock, most_s: float = 120.0) -> int:
    """Let it work until there is nothing to do, setting the clock on where it waits. How often."""
    end = clock.monotonic() + most_s
    count = 0
    while True:
        pause = mirror.work()
        count += 1
        if pause is None:
            return count
        assert count < 10_000, "it never comes to an end"
        if clock.monotonic() + pause > end:
            return count
        clock.advance(seconds=pause)


def originals_under(folder: Path) -> dict[str, bytes]:
    """All originals under a library's folder, or a copy's, by name."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted((folder / "shots").glob("*/*_*.*"))
        if not path.name.startswith(".")
    }


def shoot(library: Library, clock: SetClock, count: int, shot: str = "") -> str:
    shot = shot or library.create_shot("Cork").id
    for _ in range(count):
        keep(library, shot, f"cork {clock.time}")
        clock.advance(seconds=10)
    return shot


class Flaky(FolderPlace):
    """A folder that can go away, and counts how often it is asked."""

    def __init__(self, address: Address) -> None:
        super().__init__(address, self._connected)
        self.away: Exception | None = None
        self.asked = 0

    def _connected(self, address: Address) -> object:
        self.asked += 1
        if self.away is not None:
            raise self.away
        return file_system(address)

    def go(self, error: Exception) -> None:
        self.away = error
        self.leave()


class Lossy(FolderPlace):
    """A disk that takes bytes and gives others back, while ``lossy``."""

    lossy = True

    def _came_back(self, fs: object, path: str) -> str:
        if self.lossy and not path.endswith(".json.part"):
            with Path(path).open("r+b") as file:
                file.write(b"X")
        return super()._came_back(fs, path)


class SetBack(SetClock):
    """A clock whose hands were set back an hour; what measures goes on."""

    def __init__(self, clock: SetClock) -> None:
        self._clock = clock

    def now(self) -> datetime:
        return self._clock.now() - timedelta(hours=1)

    def monotonic(self) -> float:
        return self._clock.monotonic()
