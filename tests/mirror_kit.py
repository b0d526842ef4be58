"""What tests of the second copy share: a library, a place, and a clock that is set by hand."""

from pathlib import Path

from standclear.library.library import Library
from standclear.library.mirror.address import parse
from standclear.library.mirror.mirror import Mirror
from standclear.library.mirror.place import Place, place_at
from tests.library_kit import SetClock

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
