"""`standclear check` reads both copies; `standclear recover` makes a library from the second."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from standclear.cli import main
from standclear.library.mirror.address import parse
from standclear.library.mirror.check import check_copy_of
from standclear.library.mirror.fetch import fetch
from standclear.library.mirror.place import place_at
from standclear.library.recover import recover
from tests.library_kit import SetClock, keep, opened, order, texts
from tests.mirror_kit import mirror_to, originals_under, settle


@pytest.fixture
def folders(tmp_path: Path) -> tuple[Path, Path]:
    """A library of four exposures, and a copy of the first three."""
    here, there = tmp_path / "library", tmp_path / "copy"
    there.mkdir()
    clock = SetClock()
    with opened(here, clock=clock) as library:
        shot = library.create_shot("Cork").id
        for text in "abc":
            keep(library, shot, text)
        settle(mirror_to(library, there, clock), clock)
        keep(library, shot, "d")
    return here, there


def run(*words: str) -> tuple[int, str, str]:
    done = CliRunner().invoke(main, list(words))
    return done.exit_code, done.stdout, done.stderr


def check(here: Path, there: Path) -> tuple[int, dict[str, object]]:
    words = ("check", "--library", str(here), "--mirror", str(there), "--json")
    code, out, _ = run(*words)
    return code, json.loads(out)


def test_check_reads_both_copies(folders: tuple[Path, Path]) -> None:
    here, there = folders
    code, answer = check(here, there)
    assert code == 0
    assert answer["originals"] == 4
    copy = answer["copy"]
    assert isinstance(copy, dict)
    assert (copy["well"], copy["originals"], copy["waiting"]) == (True, 3, 1)
    code, out, _ = run("check", "--library", str(here), "--mirror", str(there))
    assert code == 0
    assert "1 exposures are not copied yet" in out
    assert "Every copy is as the original was kept." in out


def test_an_altered_and_a_missing_copy_are_named_and_copied_again(
    folders: tuple[Path, Path],
) -> None:
    here, there = folders
    files = sorted(there.glob("shots/*/*.jpg"))
    files[0].write_bytes(b"A")
    files[2].unlink()
    code, answer = check(here, there)
    assert code == 1
    copy = answer["copy"]
    assert isinstance(copy, dict)
    assert [Path(name).name for name in copy["altered"]] == [files[0].name]
    assert [Path(name).name for name in copy["missing"]] == [files[2].name]
    assert answer["well"] is True
    clock = SetClock()
    with opened(here, clock=clock) as library:
        settle(mirror_to(library, there, clock), clock)
    assert originals_under(there).items() >= originals_under(here).items()
    assert check(here, there)[0] == 0


def test_a_journal_that_was_altered_there_is_named_and_copied_again(
    folders: tuple[Path, Path],
) -> None:
    here, there = folders
    (journal,) = there.glob("shots/*/shot.jsonl")
    good = journal.read_bytes()
    journal.write_bytes(good[:-20])
    code, answer = check(here, there)
    assert code == 1
    assert "shot.jsonl" in str(answer["copy"])
    clock = SetClock()
    with opened(here, clock=clock) as library:
        settle(mirror_to(library, there, clock), clock)
    assert journal.read_bytes() == next(here.glob("shots/*/shot.jsonl")).read_bytes()
    assert check(here, there)[0] == 0


def test_a_place_without_a_copy_or_with_another_library_s_is_told(
    folders: tuple[Path, Path], tmp_path: Path
) -> None:
    here, there = folders
    empty = tmp_path / "empty"
    empty.mkdir()
    code, _, err = run("check", "--library", str(here), "--mirror", str(empty))
    assert code == 1
    assert "no second copy" in err
    opened(tmp_path / "other").close()
    code, _, err = run("check", "--library", str(tmp_path / "other"), "--mirror", str(there))
    assert code == 1
    assert "another library" in err


def test_recover_makes_a_library_from_the_second_copy_alone(
    folders: tuple[Path, Path], tmp_path: Path
) -> None:
    here, there = folders
    again = tmp_path / "again"
    code, out, err = run("recover", "--library", str(again), "--mirror", str(there), "--json")
    assert code == 0, err
    assert json.loads(out)["exposures"] == 3
    with opened(again) as library:
        shot = library.shots().items[0].id
        assert texts(library, shot) == ["a", "b", "c"]
    with opened(here) as library:
        assert order(library, shot)[:3] == [e.id for e in library.exposures(shot).items][:3]


def test_fetching_can_be_broken_off_and_begun_again(
    folders: tuple[Path, Path], tmp_path: Path
) -> None:
    _, there = folders
    again = tmp_path / "again"
    calls: list[int] = []

    def stop(done: int, _all: int) -> None:
        calls.append(done)
        if done == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fetch(place_at(parse(str(there))), again, stop)
    fetched = fetch(place_at(parse(str(there))), again)
    assert (fetched.originals, fetched.journals) == (3, 1)
    assert originals_under(again) == originals_under(there)
    assert recover(again, SetClock()).exposures == 3


def test_names_in_a_copy_lead_nowhere(tmp_path: Path, folders: tuple[Path, Path]) -> None:
    """An object store takes any key, also one that climbs out of the folder."""
    _, there = folders
    for name in ("../../out_000001.jpg", "shots/../../../out_000001.jpg", "x/y/z_000001.jpg"):
        place = place_at(parse(str(there)))
        place.names = lambda name=name: iter([name])  # type: ignore[method-assign, misc]
        again = tmp_path / f"again {len(name)}"
        assert fetch(place, again).originals == 0
        assert not list(tmp_path.rglob("out_*"))


def test_an_altered_copy_is_told_by_recover(folders: tuple[Path, Path], tmp_path: Path) -> None:
    _, there = folders
    sorted(there.glob("shots/*/*.jpg"))[1].write_bytes(b"B")
    fetch(place_at(parse(str(there))), tmp_path / "again")
    report = recover(tmp_path / "again", SetClock())
    assert [Path(name).name for name in report.altered] == ["cork_000002.jpg"]


def test_checking_does_not_stop_a_running_service(folders: tuple[Path, Path]) -> None:
    here, there = folders
    clock = SetClock()
    with opened(here, clock=clock) as library:
        shot = library.shots().items[0].id
        report = check_copy_of(here, place_at(parse(str(there))), clock)
        assert report.well
        keep(library, shot, "e")
        mirror = mirror_to(library, there, clock)
        settle(mirror, clock)
        assert mirror.state().copied_exposures == 5
