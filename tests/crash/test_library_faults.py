"""A step that fails changes nothing and is told; a full or read-only disk is told, and forgiven."""

import errno
import os
import shutil
import subprocess
import sys
import threading
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from standclear.errors import StorageError
from standclear.library.check import check
from standclear.library.library import Library
from standclear.timing.plan import Plan
from standclear.timing.plan_convert import stored
from tests.crash.faulty_disk import STEPS, FailingDisk
from tests.library_kit import IN_MEMORY, keep, opened, order, taken, texts

CODES = {
    errno.ENOSPC: ("disk_full", 507),
    errno.EROFS: ("library_read_only", 507),
    errno.EIO: ("storage_failed", 507),
}


@pytest.fixture
def in_memory() -> Iterator[Path]:
    with TemporaryDirectory(dir=IN_MEMORY) as folder:
        yield Path(folder)


@pytest.mark.parametrize(
    ("step", "count", "error"),
    [
        *((step, 1, error) for step in STEPS for error in CODES),
        *((step, 2, errno.EIO) for step in ("create", "write", "fsync", "rename")),
    ],
)
def test_a_keep_that_fails_at_any_step_changes_nothing_and_the_next_one_works(
    in_memory: Path, step: str, count: int, error: int
) -> None:
    # The second file of two fails where ``count`` is 2; folder and commit come once.
    disk = FailingDisk()
    with opened(in_memory, disk) as library:
        shot = library.create_shot("Cork").id
        keep(library, shot, "before")
        seen = library.shot(shot)
        disk.arm(step, count, error)
        with pytest.raises(StorageError) as failed:
            library.keep(shot, taken(b"raw", b"jpeg", kinds=("nef", "jpg")), camera="toy")
        assert (failed.value.code, failed.value.status) == CODES[error]
        assert len(failed.value.detail) > 20
        assert library.shot(shot) == seen
        assert texts(library, shot) == ["before"]
        place = in_memory / "shots" / seen.folder
        assert not list(place.glob(".*.part"))
        assert {p.name for p in place.glob("*_*")} == {"cork_000001.jpg"}
        assert all(p.read_bytes() in {b"raw", b"jpeg"} for p in library.unclaimed())
        keep(library, shot, "after")
        assert texts(library, shot) == ["before", "after"]
    with opened(in_memory, disk) as library:
        assert texts(library, shot) == ["before", "after"]
        assert check(in_memory).well


@pytest.mark.parametrize("step", ["make_folder", "fsync_dir", "before_commit"])
def test_a_shot_that_cannot_be_made_leaves_nothing(tmp_path: Path, step: str) -> None:
    disk = FailingDisk()
    with opened(tmp_path, disk) as library:
        disk.arm(step, 1, errno.ENOSPC)
        with pytest.raises(StorageError) as failed:
            library.create_shot("Cork")
        assert failed.value.code == "disk_full"
        assert list(library.shots().items) == []
        assert list((tmp_path / "shots").iterdir()) == []
        assert library.create_shot("Cork").folder == "0001 cork"


def test_an_edit_that_fails_changes_nothing(tmp_path: Path) -> None:
    disk = FailingDisk()
    with opened(tmp_path, disk) as library:
        shot = library.create_shot("Cork").id
        a, b = keep(library, shot, "a"), keep(library, shot, "b")
        library.bin_exposure(shot, a)
        seen = library.shot(shot)
        edits = [
            lambda: library.undo(shot),
            lambda: library.bin_exposure(shot, b),
            lambda: library.restore_exposure(shot, a),
            lambda: library.change_exposure(shot, b, hold=2),
            lambda: library.change_shot(shot, name="B"),
            lambda: library.empty_bin(shot),
            lambda: library.put_plan(shot, stored(Plan(Fraction(12)))),
            lambda: library.put_verdict(b, {}),
            lambda: library.claim_receipt("key", "print"),
        ]
        for edit in edits:
            disk.arm("before_commit")
            with pytest.raises(StorageError):
                edit()
            assert library.shot(shot) == seen
        assert order(library, shot) == [b]
        assert [e.id for e in library.binned(shot).items] == [a]
        assert library.original_path(shot, a).exists()
        assert library.receipt("key") is None


def test_a_journal_that_cannot_be_written_costs_no_picture_and_catches_up(tmp_path: Path) -> None:
    disk = FailingDisk()
    with opened(tmp_path, disk) as library:
        shot = library.create_shot("Cork")
        disk.arm("open_append")
        one = keep(library, shot.id, "one")
        lines = (tmp_path / "shots" / shot.folder / "shot.jsonl").read_text().splitlines()
        assert len(lines) == 1
        keep(library, shot.id, "two")
        lines = (tmp_path / "shots" / shot.folder / "shot.jsonl").read_text().splitlines()
        assert len(lines) == 2
        assert one in lines[1]
    with opened(tmp_path) as library:
        assert library.swept.journals == ()


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of its own with room for 6 MB."""
    place = tmp_path / "small"
    place.mkdir()
    mount = shutil.which("mount")
    made = mount and os.geteuid() == 0
    command = ["mount", "-t", "tmpfs", "-o", "size=6m", "tmpfs", str(place)]
    if not made or subprocess.run(command, capture_output=True, check=False).returncode:
        pytest.skip("a small file system can only be mounted by root, where mounting is allowed")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


def test_a_full_disk_is_told_and_keeping_goes_on_when_there_is_room_again(
    small_disk: Path,
) -> None:
    picture = os.urandom(400_000)
    with opened(small_disk / "library") as library:
        shot = library.create_shot("Cork").id
        kept: list[str] = []
        with pytest.raises(StorageError) as full:
            keep_until_refused(library, shot, picture, kept)
        assert (full.value.code, full.value.status) == ("disk_full", 507)
        assert kept
        assert order(library, shot) == kept
        for _ in range(5):
            with pytest.raises(StorageError):
                library.keep(shot, taken(picture), camera="toy")
        fill = small_disk / "fill"
        with pytest.raises(OSError, match="space"):
            write_until_refused(fill)
        with pytest.raises(StorageError) as full:
            edit_until_refused(library, shot, kept[0])
        assert full.value.code == "disk_full"
        fill.unlink()
        for binned in kept[1:4]:
            library.bin_exposure(shot, binned)
        library.empty_bin(shot)
        assert library.keep(shot, taken(picture), camera="toy").number == len(kept) - 2
    with opened(small_disk / "library") as library:
        assert order(library, shot)[:1] == kept[:1]
        assert check(small_disk / "library").well


def keep_until_refused(library: Library, shot: str, picture: bytes, kept: list[str]) -> None:
    for _ in range(100):
        kept.append(library.keep(shot, taken(picture), camera="toy").id)


def edit_until_refused(library: Library, shot: str, one: str) -> None:
    for change in range(2000):
        library.change_exposure(shot, one, note=str(change) * 300)


def write_until_refused(path: Path) -> None:
    with path.open("wb", buffering=0) as file:
        while True:
            file.write(b"x" * 4096)


def test_a_read_only_folder_cannot_be_opened_and_says_so(small_disk: Path) -> None:
    opened(small_disk / "library").close()
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    with pytest.raises(StorageError) as refused:
        opened(small_disk / "library")
    assert refused.value.code == "library_read_only"


SIZE_LIMIT = """
import resource, signal, sys
from pathlib import Path
from tests.library_kit import IN_MEMORY, keep, opened, taken, texts
from standclear.errors import StorageError
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
with opened(Path(sys.argv[1])) as library:
    shot = library.create_shot("Cork").id
    keep(library, shot, "one")
    resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, resource.RLIM_INFINITY))
    try:
        library.keep(shot, taken(bytes(400_000)), camera="toy")
    except StorageError as error:
        print(error.code, texts(library, shot), library.shot(shot).exposure_count)
    resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    library.keep(shot, taken(bytes(400_000)), camera="toy")
    print(library.shot(shot).exposure_count)
"""


def test_a_file_size_limit_is_a_full_disk(tmp_path: Path) -> None:
    """Needs no root: the system refuses the write half way (setrlimit(2), EFBIG)."""
    command = [sys.executable, "-c", SIZE_LIMIT, str(tmp_path)]
    root = Path(__file__).resolve().parents[2]
    told = subprocess.run(command, capture_output=True, text=True, check=True, cwd=root)
    assert told.stdout.splitlines() == ["disk_full ['one'] 1", "2"]


def test_eight_threads_keep_and_edit_and_nothing_is_torn(tmp_path: Path) -> None:
    with opened(tmp_path) as library:
        shots = [library.create_shot(f"Cork {n}").id for n in range(2)]
        failures: list[BaseException] = []
        threads = [
            threading.Thread(target=_work, args=(library, shots[n % 2], n, failures))
            for n in range(8)
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert failures == []
        for shot in shots:
            said = texts(library, shot)
            assert len(said) == library.shot(shot).exposure_count == 4 * 4
            names = [e.originals[0].name for e in library.exposures(shot).items]
            assert len(set(names)) == len(names)
        report = check(tmp_path)
        assert report.well
        assert report.originals == 8 * 6
    with opened(tmp_path) as library:
        assert library.swept.journals == library.swept.missing == ()


def _work(library: Library, shot: str, n: int, failures: list[BaseException]) -> None:
    """Six exposures: one retaken, one deleted, the rest changed and read meanwhile."""
    try:
        first = keep(library, shot, f"{n} first")
        for turn in range(3):
            one = keep(library, shot, f"{n} {turn}", insert_after="start" if turn % 2 else None)
            library.change_exposure(shot, one, hold=turn + 1, note=f"{n}")
            library.playback(shot, last=12)
            library.exposures(shot, limit=5)
            library.put_verdict(one, {"turn": turn})
        keep(library, shot, f"{n} again", replaces=first)
        library.bin_exposure(shot, keep(library, shot, f"{n} gone"))
    except BaseException as error:
        failures.append(error)
        raise
