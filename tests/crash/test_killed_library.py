"""Promise 1 under SIGKILL: at random moments, and at each step on disk in turn.

Short form: 15 kills. STANDCLEAR_LONG=1: 200.
"""

import multiprocessing
import os
import random
from collections.abc import Callable, Iterator
from multiprocessing.connection import Connection
from pathlib import Path

import pytest

from standclear.library.check import check
from standclear.library.library import Library
from standclear.library.recover import recover
from tests.crash import keeping_child
from tests.library_kit import SetClock, opened, order, sha256

LONG = os.environ.get("STANDCLEAR_LONG") == "1"
KILLS = 200 if LONG else 15
SEED = 20260301


@pytest.fixture(scope="module")
def start() -> Iterator[Callable[..., multiprocessing.process.BaseProcess]]:
    """Starts a function in a process of its own, quickly: from a server that has imported it."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.crash.keeping_child"])

    def started(target: Callable[..., None], *arguments: object) -> object:
        process = context.Process(target=target, args=arguments, daemon=True)
        process.start()
        return process

    yield started  # type: ignore[misc]
    forkserver = multiprocessing.forkserver._forkserver  # type: ignore[attr-defined]
    forkserver._stop()


def heard(talk: Connection) -> list[tuple[str, object]]:
    """All that was said until the process was gone; a last word cut short was not said."""
    said = []
    while True:
        try:
            said.append(talk.recv())
        except (EOFError, OSError):
            return said


def test_killed_at_random_moments_nothing_acknowledged_is_lost(
    tmp_path: Path, start: Callable[..., multiprocessing.process.BaseProcess]
) -> None:
    chance = random.Random(SEED)
    with opened(tmp_path) as library:
        shot = library.create_shot("Cork").id
    acknowledged: list[str] = []
    hashes: set[str] = set()
    for kill in range(KILLS):
        ours, theirs = multiprocessing.Pipe(duplex=False)
        process = start(keeping_child.keep_for_ever, tmp_path, shot, kill, theirs)
        theirs.close()
        said = [ours.recv() for _ in range(chance.randint(1, 6))]
        process.join(chance.uniform(0, 0.06))  # some moment within a keep
        process.kill()
        said += heard(ours)
        process.join()
        ours.close()
        acknowledged += [str(value) for what, value in said if what == "kept"]
        hashes |= {str(value) for what, value in said if what == "about to keep"}
        with opened(tmp_path) as library:
            assert_kept(library, shot, acknowledged, hashes)
            # What nobody was told of may have been kept as well; it counts from now on.
            acknowledged = order(library, shot)
    assert check(tmp_path).well
    assert_recovered_alike(tmp_path, shot, acknowledged)


def assert_kept(library: Library, shot: str, acknowledged: list[str], hashes: set[str]) -> None:
    """Each acknowledged exposure in its place, all files whole, no half of another."""
    found = order(library, shot)
    assert found[: len(acknowledged)] == acknowledged
    assert len(found) <= len(acknowledged) + 1
    for one in found:
        for index, original in enumerate(library.exposure(shot, one).originals):
            data = library.original_path(shot, one, index).read_bytes()
            assert sha256(data) == original.sha256
            assert original.sha256 in hashes
    assert library.swept.missing == ()
    for path in library.unclaimed():
        assert sha256(path.read_bytes()) in hashes
    place = library.folder / "shots" / library.shot(shot).folder
    assert not list(place.glob(".*"))


def assert_recovered_alike(folder: Path, shot: str, expected: list[str]) -> None:
    """The journals, too, lost nothing to the kills."""
    (folder / "library.db").unlink()
    recover(folder, SetClock())
    with opened(folder) as library:
        assert order(library, shot) == expected


def test_killed_at_each_step_on_disk_nothing_acknowledged_is_lost(
    tmp_path: Path, start: Callable[..., multiprocessing.process.BaseProcess]
) -> None:
    steps = range(1, 1000) if LONG else range(1, 1000, 11)
    for at in steps:
        folder = tmp_path / str(at)
        opened(folder).close()
        ours, theirs = multiprocessing.Pipe(duplex=False)
        process = start(keeping_child.work_until_killed, folder, at, theirs)
        theirs.close()
        said = heard(ours)
        process.join()
        ours.close()
        with opened(folder) as library:
            assert_stands(library, said)
        if said and said[-1][0] == "done":
            assert at > 60, "the work has fewer steps than it had; is one missing?"
            return
    raise AssertionError("the work never came to its end")


def assert_stands(library: Library, said: list[tuple[str, object]]) -> None:
    """All that was said holds, or what the one thing after it would make of it."""
    shots = [str(value) for what, value in said if what == "shot"]
    assert {shot.id for shot in library.shots().items} >= set(shots)
    gone = {value for what, value in said if what == "gone"}
    undone = [value for what, value in said if what == "order"]
    for shot in shots:
        shown = order(library, shot)
        there = set(shown) | {e.id for e in library.binned(shot).items}
        kept = {str(value) for what, value in said if what == "kept"}
        # Emptying the bin is the one thing that removes, and it may be done but not yet said.
        spared = kept - gone if gone or len(undone) < 3 else kept & set(shown)
        assert there >= spared
        for one in there:
            for index, original in enumerate(library.exposure(shot, one).originals):
                data = library.original_path(shot, one, index).read_bytes()
                assert sha256(data) == original.sha256
    assert library.swept.missing == ()
    assert check(library.folder).well
