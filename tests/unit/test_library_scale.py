"""A shot of 10,000 exposures costs what one of 100 does. The long form is tests/bench."""

import time
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.bench.bench_library import SCALE_GOAL, long_against_short
from tests.library_kit import IN_MEMORY, keep, opened


def test_a_long_shot_costs_no_more_than_a_short_one() -> None:
    with TemporaryDirectory(dir=IN_MEMORY) as folder:
        found = long_against_short(Path(folder) / "library", 30, time.thread_time)
    slow = {name: costs for name, costs in found.items() if costs[1] > SCALE_GOAL * costs[0]}
    assert slow == {}


def test_undoing_in_the_middle_of_a_long_shot_keeps_the_places(tmp_path: Path) -> None:
    with opened(tmp_path) as library:
        shot = library.create_shot("Cork").id
        ids = [keep(library, shot, str(n)) for n in range(30)]
        library.bin_exposure(shot, ids[3])
        library.bin_exposure(shot, ids[20])
        library.undo(shot)
        library.undo(shot)
        assert [e.id for e in library.exposures(shot).items] == ids
