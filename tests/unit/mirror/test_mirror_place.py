"""The place of the second copy: which one it is, and what else may lie there."""

import json
from pathlib import Path

from standclear.errors import StandclearError
from standclear.library.mirror.address import parse
from standclear.library.mirror.mirror import SAME_DISK
from standclear.library.mirror.place import MARK_FILE
from tests.library_kit import SetClock, opened
from tests.mirror_kit import (
    Flaky,
    mirror_to,
    originals_under,
    settle,
    shoot,
)


def test_an_empty_mount_point_is_no_place(tmp_path: Path, there: Path, clock: SetClock) -> None:
    """The disk is unplugged: what is left is an empty folder on the computer's own disk."""
    with opened(tmp_path / "library", clock=clock) as library:
        shot = shoot(library, clock, 1)
        mirror = mirror_to(library, there, clock)
        settle(mirror, clock)
        plugged_out = there.rename(tmp_path / "unplugged")
        there.mkdir()
        shoot(library, clock, 1, shot)
        settle(mirror, clock, 60)
        assert mirror.state().state == "fault"
        assert "not plugged in" in mirror.state().says
        assert list(there.iterdir()) == []
        there.rmdir()
        mirror.retry()
        mirror.work()
        assert mirror.state().state == "away"
        assert not there.exists(), "and it is never made"
        plugged_out.rename(there)
        mirror.retry()
        settle(mirror, clock)
        assert mirror.state().state == "in_step"
    assert originals_under(there) == originals_under(tmp_path / "library")


def test_a_new_disk_is_taken_when_that_is_said(
    tmp_path: Path, there: Path, clock: SetClock
) -> None:
    with opened(tmp_path / "library", clock=clock) as library:
        shoot(library, clock, 2)
        mirror = mirror_to(library, there, clock)
        settle(mirror, clock)
        first = there.rename(tmp_path / "first disk")
        there.mkdir()
        mirror.retry()
        mirror.begin_anew()
        settle(mirror, clock)
        assert mirror.state().copied_exposures == 2
        assert originals_under(there) == originals_under(first)
        # Back on the first: its own mark tells what it holds.
        there.rename(tmp_path / "second disk")
        first.rename(there)
        mirror.retry()
        assert settle(mirror, clock) == 1


def test_the_copy_of_another_library_is_left_alone(
    tmp_path: Path, there: Path, clock: SetClock
) -> None:
    with opened(tmp_path / "other", clock=clock) as other:
        shoot(other, clock, 1)
        settle(mirror_to(other, there, clock), clock)
    before = originals_under(there)
    with opened(tmp_path / "library", clock=clock) as library:
        shoot(library, clock, 2)
        mirror = mirror_to(library, there, clock)
        mirror.begin_anew()
        settle(mirror, clock, 30)
        assert mirror.state().state == "fault"
        assert "another library" in mirror.state().says
    assert originals_under(there) == before


def test_a_copy_on_the_library_s_own_disk_is_cautioned_of(
    tmp_path: Path, there: Path, clock: SetClock
) -> None:
    with opened(tmp_path / "library", clock=clock) as library:
        assert mirror_to(library, there, clock).state().caution == SAME_DISK


def test_a_mark_that_is_not_ours_is_not_overwritten(
    tmp_path: Path, there: Path, clock: SetClock
) -> None:
    (there / MARK_FILE).write_text(json.dumps({"cork": 1}))
    with opened(tmp_path / "library", clock=clock) as library:
        mirror = mirror_to(library, there, clock)
        mirror.work()
        assert mirror.state().state == "fault"
    assert json.loads((there / MARK_FILE).read_text()) == {"cork": 1}


def test_a_folder_that_cannot_be_written_says_so(
    tmp_path: Path, there: Path, clock: SetClock
) -> None:
    with opened(tmp_path / "library", clock=clock) as library:
        place = Flaky(parse(str(there)))
        place.away = PermissionError(13, "no")
        mirror = mirror_to(library, there, clock, place)
        mirror.work()
        assert mirror.state().state == "fault"
        assert "rights" in mirror.state().says
        place.away = OSError(28, "full")
        mirror.retry()
        mirror.work()
        assert "no room" in mirror.state().says
        assert isinstance(mirror._trouble, StandclearError)
