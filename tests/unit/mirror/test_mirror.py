"""The second copy: nothing forgotten, nothing overwritten, every byte read back."""

import hashlib
from fractions import Fraction
from pathlib import Path

import pytest

from standclear.library.mirror.address import parse
from standclear.library.mirror.mirror import Mirror
from standclear.library.mirror.place import FolderPlace
from standclear.library.recover import recover
from standclear.timing.plan_convert import stored
from standclear.timing.plan_text import parse_plan
from tests.library_kit import SetClock, keep, opened, order, taken, texts
from tests.mirror_kit import (
    HOUR_S,
    Flaky,
    Lossy,
    SetBack,
    mirror_to,
    originals_under,
    settle,
    shoot,
)


def test_each_kept_exposure_is_copied_byte_for_byte_with_its_journal(
    tmp_path: Path, there: Path, clock: SetClock
) -> None:
    with opened(tmp_path / "library", clock=clock) as library:
        shot = shoot(library, clock, 3)
        library.keep(shot, taken(b"jpeg", b"raw", kinds=("jpg", "nef")), camera="toy")
        mirror = mirror_to(library, there, clock)
        before = mirror.state()
        assert (before.state, before.waiting_exposures, before.copied_exposures) == (
            "copying",
            4,
            0,
        )
        assert before.lag_s == 30
        assert before.waiting_bytes == sum(len(d) for d in originals_under(library.folder).values())
        settle(mirror, clock)
        after = mirror.state()
        assert (after.state, after.waiting_exposures, after.copied_exposures) == ("in_step", 0, 4)
        assert after.lag_s == 0
        assert after.last_copied_at is not None
    assert originals_under(there) == originals_under(tmp_path / "library")
    folder = next((tmp_path / "library" / "shots").iterdir()).name
    journal = Path("shots") / folder / "shot.jsonl"
    assert (there / journal).read_bytes() == (tmp_path / "library" / journal).read_bytes()
    assert not list(there.rglob("*.part"))


def test_edits_reach_the_copy_and_a_library_can_be_made_from_it_alone(
    tmp_path: Path, there: Path, clock: SetClock
) -> None:
    with opened(tmp_path / "library", clock=clock) as library:
        shot = shoot(library, clock, 4)
        mirror = mirror_to(library, there, clock)
        settle(mirror, clock)
        a, b, c, d = order(library, shot)
        library.change_exposure(shot, a, hold=3)
        library.bin_exposure(shot, b)
        keep(library, shot, "first", insert_after="start")
        library.put_plan(shot, stored(parse_plan("wait 1 s, hold", Fraction(12))))
        library.change_shot(shot, name="Cork wakes", frame_rate="24000/1001")
        settle(mirror, clock)
        expected = (order(library, shot), texts(library, shot), library.plan(shot)[0])
    report = recover(there, clock)
    assert report.appended == report.altered == report.missing == ()
    with opened(there, clock=clock) as copy:
        assert (order(copy, shot), texts(copy, shot), copy.plan(shot)[0]) == expected
        assert copy.exposure(shot, a).hold == 3
        assert [e.id for e in copy.binned(shot).items] == [b]
        assert (copy.shot(shot).name, copy.shot(shot).frame_rate) == ("Cork wakes", "24000/1001")
        assert {c, d} < set(order(copy, shot))


@pytest.mark.parametrize(
    "error", [ConnectionResetError(), TimeoutError(), OSError(5, "secret"), OSError(112, "down")]
)
def test_an_hour_without_the_place_loses_nothing_and_is_said(
    tmp_path: Path, there: Path, clock: SetClock, error: Exception
) -> None:
    with opened(tmp_path / "library", clock=clock) as library:
        place = Flaky(parse(str(there)))
        mirror = mirror_to(library, there, clock, place)
        shot = shoot(library, clock, 2)
        settle(mirror, clock)
        place.go(error)
        place.asked = 0
        gone_at = clock.monotonic()
        while clock.monotonic() < gone_at + HOUR_S:
            keep(library, shot, f"while away {clock.time}")
            settle(mirror, clock, 60)
            clock.advance(seconds=5)
        state = mirror.state()
        assert state.state == "away"
        assert state.waiting_exposures > 50
        assert state.lag_s >= HOUR_S - 60
        assert str(there) in state.says
        assert "secret" not in state.says
        assert 30 < place.asked < 120, "it tries about once a minute"
        place.away = None
        settle(mirror, clock, 120)
        assert mirror.state().state == "in_step"
    assert originals_under(there) == originals_under(tmp_path / "library")


def test_the_pause_between_tries_grows_and_a_word_from_outside_ends_it(
    tmp_path: Path, there: Path, clock: SetClock
) -> None:
    with opened(tmp_path / "library", clock=clock) as library:
        place = Flaky(parse(str(there)))
        place.away = ConnectionRefusedError()
        mirror = mirror_to(library, there, clock, place)
        pauses = []
        for _ in range(8):
            pauses.append(mirror.work() or 0)
            clock.advance(seconds=pauses[-1])
        assert pauses == [2, 4, 8, 16, 32, 60, 60, 60]
        assert mirror.work() == 60
        place.away = None
        assert (mirror.work() or 0) > 0, "not before its time"
        mirror.retry()
        assert mirror.work() is None
        assert mirror.state().state == "in_step"


def test_what_waits_is_found_again_after_a_restart(
    tmp_path: Path, there: Path, clock: SetClock
) -> None:
    with opened(tmp_path / "library", clock=clock) as library:
        shot = shoot(library, clock, 3)
        mirror = mirror_to(library, there, clock)
        mirror.work()
        assert mirror.state().copied_exposures == 1
    with opened(tmp_path / "library", clock=clock) as library:
        shoot(library, clock, 1, shot)
        mirror = mirror_to(library, there, clock)
        assert mirror.state().waiting_exposures == 3
        settle(mirror, clock)
    assert originals_under(there) == originals_under(tmp_path / "library")


def test_after_recovery_the_copy_is_verified_instead_of_sent_again(
    tmp_path: Path, there: Path, clock: SetClock
) -> None:
    with opened(tmp_path / "library", clock=clock) as library:
        shoot(library, clock, 2)
        settle(mirror_to(library, there, clock), clock)
    times = {p: p.stat().st_mtime_ns for p in there.glob("shots/*/*.jpg")}
    recover(tmp_path / "library", clock)
    with opened(tmp_path / "library", clock=clock) as library:
        mirror = mirror_to(library, there, clock)
        assert mirror.state().waiting_exposures == 2
        settle(mirror, clock)
        assert mirror.state().copied_exposures == 2
    assert {p: p.stat().st_mtime_ns for p in there.glob("shots/*/*.jpg")} == times
    (journal,) = there.glob("shots/*/shot.jsonl")
    here = tmp_path / "library" / journal.relative_to(there)
    assert journal.read_bytes() == here.read_bytes()


def test_an_original_that_was_altered_is_not_copied_and_keeps_no_other_waiting(
    tmp_path: Path, there: Path, clock: SetClock
) -> None:
    with opened(tmp_path / "library", clock=clock) as library:
        shoot(library, clock, 3)
        paths = sorted((tmp_path / "library").glob("shots/*/*.jpg"))
        paths[1].write_bytes(b"not as it was kept")
        mirror = mirror_to(library, there, clock)
        settle(mirror, clock)
        state = mirror.state()
        assert (state.state, state.waiting_exposures, state.copied_exposures) == ("fault", 1, 2)
        assert paths[1].name in state.says
    assert sorted(p.name for p in there.glob("shots/*/*.jpg")) == [paths[0].name, paths[2].name]


def test_a_file_there_with_other_bytes_is_set_aside_never_overwritten(
    tmp_path: Path, there: Path, clock: SetClock
) -> None:
    with opened(tmp_path / "library", clock=clock) as library:
        shoot(library, clock, 1)
        (here,) = (tmp_path / "library").glob("shots/*/*.jpg")
        other = there / here.relative_to(tmp_path / "library")
        other.parent.mkdir(parents=True)
        other.write_bytes(b"somebody else's")
        settle(mirror_to(library, there, clock), clock)
        assert other.read_bytes() == here.read_bytes()
    digest = hashlib.sha256(b"somebody else's").hexdigest()
    aside = other.with_name(f"{other.name}.differs.{digest}")
    assert aside.read_bytes() == b"somebody else's"


def test_bytes_that_come_back_changed_are_no_copy(
    tmp_path: Path, there: Path, clock: SetClock
) -> None:
    with opened(tmp_path / "library", clock=clock) as library:
        shoot(library, clock, 1)
        place = Lossy(parse(str(there)))
        mirror = mirror_to(library, there, clock, place)
        mirror.work()
        state = mirror.state()
        assert (state.state, state.copied_exposures) == ("fault", 0)
        assert "other bytes" in state.says
        assert not list(there.glob("shots/*/*"))
        place.lossy = False
        mirror.retry()
        settle(mirror, clock)
        assert mirror.state().state == "in_step"


def test_emptying_the_bin_empties_it_there_too_and_nothing_else_removes(
    tmp_path: Path, there: Path, clock: SetClock
) -> None:
    with opened(tmp_path / "library", clock=clock) as library:
        shot = shoot(library, clock, 3)
        mirror = mirror_to(library, there, clock)
        settle(mirror, clock)
        library.bin_exposure(shot, order(library, shot)[1])
        settle(mirror, clock)
        assert len(originals_under(there)) == 3
        library.empty_bin(shot)
        settle(mirror, clock)
    assert originals_under(there) == originals_under(tmp_path / "library")
    assert len(originals_under(there)) == 2
    report = recover(there, clock)
    assert report.exposures == 2
    assert report.appended == ()


def test_a_journal_that_is_no_continuation_does_not_replace_the_copy_of_the_old_one(
    tmp_path: Path, there: Path, clock: SetClock
) -> None:
    with opened(tmp_path / "library", clock=clock) as library:
        shot = shoot(library, clock, 2)
        mirror = mirror_to(library, there, clock)
        settle(mirror, clock)
        (here,) = (tmp_path / "library").glob("shots/*/shot.jsonl")
        copied = there / here.relative_to(tmp_path / "library")
        before = copied.read_bytes()
        lines = here.read_bytes().splitlines(keepends=True)
        here.write_bytes(lines[-1])
        library.change_shot(shot, name="Cork wakes")
        clock.advance(seconds=60)
        settle(mirror, clock)
        (aside,) = copied.parent.glob("shot.jsonl.*")
        assert aside.read_bytes() == before
        assert copied.read_bytes() == here.read_bytes()


def test_paused_it_copies_nothing_and_says_so(tmp_path: Path, there: Path, clock: SetClock) -> None:
    with opened(tmp_path / "library", clock=clock) as library:
        shoot(library, clock, 1)
        mirror = mirror_to(library, there, clock)
        mirror.pause(True)
        assert mirror.work() is None
        assert mirror.state().state == "paused"
        assert "1 exposure not copied yet" in mirror.state().says
        assert not list(there.iterdir())
        mirror.pause(False)
        settle(mirror, clock)
        assert mirror.state().state == "in_step"


def test_a_clock_set_back_an_hour_makes_no_lag_negative_and_stops_nothing(
    tmp_path: Path, there: Path, clock: SetClock
) -> None:
    with opened(tmp_path / "library", clock=clock) as library:
        shot = shoot(library, clock, 2)
        mirror = mirror_to(library, there, clock)
        settle(mirror, clock)
        keep(library, shot, "before")
        wall = clock.time
        mirror = Mirror(library, FolderPlace(parse(str(there))), SetBack(clock))
        keep(library, shot, "after")
        assert clock.time == wall
        assert mirror.state().lag_s == 0
        settle(mirror, clock)
        assert mirror.state().state == "in_step"
    assert originals_under(there) == originals_under(tmp_path / "library")
