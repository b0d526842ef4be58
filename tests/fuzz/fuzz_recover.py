"""Fuzzes the way back: a shot's folder whose journal holds anything at all is salvaged.

Whatever the journal says, salvaging must end, believe no name that leads out of the folder, give
only what the database takes, and leave every original as it is.
"""

import json
import shutil
import tempfile
from datetime import UTC, datetime
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["standclear.library"]):
    from standclear.clock import SystemClock
    from standclear.library.journal import JOURNAL_FILE
    from standclear.library.library import SHOTS_FOLDER, Library
    from standclear.library.recover import recover
    from standclear.library.salvage import salvage

from tests.fuzz.target import fuzz
from tests.library_kit import keep

NOW = datetime(2026, 1, 2, tzinfo=UTC)
WHOLE_EVERY = 60  # a whole recovery makes a database, which takes a while


class Ground:
    """A library with one shot of two exposures, whose journal is written anew each time."""

    def __init__(self, folder: Path) -> None:
        self.library = folder / "library"
        with Library.open(self.library, SystemClock()) as library:
            shot = library.create_shot("cork wakes").id
            for _ in range(2):
                keep(library, shot)
        self.shot = next(place for place in (self.library / SHOTS_FOLDER).iterdir())
        self.journal = (self.shot / JOURNAL_FILE).read_bytes()
        self.originals = self._originals()
        self.turn = 0

    def _originals(self) -> dict[str, bytes]:
        return {
            path.name: path.read_bytes()
            for path in self.shot.iterdir()
            if path.is_file() and path.name != JOURNAL_FILE
        }

    def one_input(self, data: bytes) -> None:
        """One journal."""
        (self.shot / JOURNAL_FILE).write_bytes(data)
        found = salvage(self.shot, 1, NOW)
        names = {original["name"] for one in found.exposures for original in one["originals"]}
        assert names >= set(self.originals), "no original is forgotten"
        assert not any("/" in name or name.startswith(".") for name in names)
        json.dumps(found.shot, default=str)
        self.turn += 1
        if self.turn % WHOLE_EVERY == 0:
            self._recovered()
        assert self._originals() == self.originals, "no original is touched"

    def _recovered(self) -> None:
        report = recover(self.library, SystemClock())
        assert report.shots == 1
        with Library.open(self.library, SystemClock()) as library:
            shot = library.shots().items[0]
            assert len(library.exposures(shot.id, limit=100).items) == shot.exposure_count
        for aside in self.library.glob("*.aside.db*"):
            aside.unlink()


def main() -> None:
    """Fuzz on a library in a temporary folder."""
    folder = Path(tempfile.mkdtemp(prefix="standclear-ground-"))
    try:
        ground = Ground(folder)
        lines = ground.journal.splitlines(keepends=True)
        fuzz(ground.one_input, [ground.journal, *lines, b"".join(reversed(lines)), b"{}\n[]\n\n"])
    finally:
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
