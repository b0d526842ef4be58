"""Promise 1 under a power cut: unflushed bytes and names are dropped, at each step in turn.

And the harness itself is tried: a library whose disk forgets one flush, or writes under the final
name, must fail it.
"""

from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from standclear.library.check import check
from standclear.library.library import Library
from tests.crash.faulty_disk import ForgettingDisk
from tests.crash.keeping_child import picture
from tests.library_kit import IN_MEMORY, SetClock, opened, order, sha256, taken

PICTURES = {sha256(picture(seed, 4000)) for seed in range(10)}


class Said:
    """What was acknowledged so far."""

    def __init__(self) -> None:
        self.shot = ""
        self.kept: list[str] = []


def shoot(library: Library, said: Said) -> None:
    """Two exposures, one of two files, and two edits."""
    said.shot = library.create_shot("Cork").id
    said.kept.append(library.keep(said.shot, taken(picture(1, 4000)), camera="toy").id)
    two = taken(picture(2, 4000), picture(3, 4000), kinds=("jpg", "nef"))
    said.kept.append(library.keep(said.shot, two, camera="toy").id)
    library.change_exposure(said.shot, said.kept[0], hold=2)
    said.kept.append(library.keep(said.shot, taken(picture(4, 4000)), camera="toy").id)


def cut_at_each_step(disk: ForgettingDisk, folder: Path) -> int:
    """Shoot, and at each step look at what a power cut would leave. Returns how many there were."""
    said = Said()
    cuts = 0

    def cut(step: str, _path: Path | None) -> None:
        nonlocal cuts
        cuts += 1
        disk.watch = lambda _step, _path: None
        with TemporaryDirectory(dir=IN_MEMORY) as copy:
            disk.cut(folder, Path(copy) / "left")
            assert_stands(Path(copy) / "left", said, step)
        disk.watch = cut

    with opened(folder, disk) as library:
        disk.watch = cut
        shoot(library, said)
        disk.watch = lambda _step, _path: None
        with TemporaryDirectory(dir=IN_MEMORY) as copy:
            disk.cut(folder, Path(copy) / "left")
            assert_stands(Path(copy) / "left", said, "the end")
    return cuts


def assert_stands(folder: Path, said: Said, step: str) -> None:
    with Library.open(folder, SetClock()) as library:
        if said.shot:
            assert order(library, said.shot)[: len(said.kept)] == said.kept, step
        assert library.swept.missing == (), step
        for path in library.unclaimed():
            assert sha256(path.read_bytes()) in PICTURES, step
    assert check(folder).well, step


def test_a_power_cut_at_any_step_loses_nothing_acknowledged() -> None:
    with TemporaryDirectory(dir=IN_MEMORY) as folder:
        assert cut_at_each_step(ForgettingDisk(), Path(folder) / "library") > 40


class NoFlushOfFiles(ForgettingDisk):
    """As if the fsync of the file had been removed."""

    def fsync(self, descriptor: int) -> None:
        pass


class NoFlushOfFolders(ForgettingDisk):
    """As if the fsync of the folder had been removed."""

    def fsync_dir(self, folder: Path) -> None:
        self._before("fsync_dir", folder)


class NoRename(ForgettingDisk):
    """As if files were written under their final names at once."""

    def create(self, path: Path) -> int:
        return super().create(path.with_name(path.name.removeprefix(".").removesuffix(".part")))

    def rename(self, old: Path, new: Path) -> None:
        self._before("rename", new)


@pytest.mark.parametrize("broken", [NoFlushOfFiles, NoFlushOfFolders, NoRename])
def test_a_removed_flush_or_rename_is_noticed(broken: Callable[[], ForgettingDisk]) -> None:
    with TemporaryDirectory(dir=IN_MEMORY) as folder, pytest.raises(AssertionError):
        cut_at_each_step(broken(), Path(folder) / "library")
