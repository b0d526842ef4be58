"""Recovery: the database rebuilt from the shots' folders alone. And the check of originals."""

import json
import shutil
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standclear.errors import StandclearError
from standclear.library import journal
from standclear.library.check import check
from standclear.library.records import Exposure, Shot
from standclear.library.recover import recover
from standclear.library.replay import replay
from standclear.timing.plan_convert import stored
from standclear.timing.plan_text import parse_plan
from tests.library_kit import SetClock, keep, opened, order, taken, texts
from tests.pictures import jpeg


def busy_library(folder: Path) -> str:
    """A library in which a bit of everything was done. Returns a shot's id."""
    with opened(folder) as library:
        library.create_shot("Empty", frame_rate="25", notes="not begun")
        shot = library.create_shot("Korken ☕ wakes", frame_rate="24000/1001").id
        a, b, c = (keep(library, shot, text) for text in "abc")
        both = taken(jpeg(64, 48), b"raw", kinds=("jpg", "nef"))
        d = library.keep(shot, both, camera="toy", insert_after="start").id
        library.change_exposure(shot, a, hold=3, note="ears\nup")
        keep(library, shot, "e", replaces=b)
        library.bin_exposure(shot, c)
        library.undo(shot)
        library.bin_exposure(shot, keep(library, shot, "binned"))
        library.bin_exposure(shot, keep(library, shot, "gone"))
        library.empty_bin(shot)
        library.bin_exposure(shot, keep(library, shot, "binned again"))
        library.put_verdict(d, {"state": "clear"})
        library.put_plan(shot, stored(parse_plan("wakes 12 frames", Fraction(12))))
        library.change_shot(shot, name="Korken ☕ wakes up")
        library.bin_shot(library.create_shot("Binned").id)
    return shot


def all_of_it(folder: Path) -> tuple[object, ...]:
    """All that recovery promises, without what it does not (undo steps, revisions)."""
    with opened(folder) as library:
        shots = [*library.shots().items, *library.binned_shots().items]
        live = list(library.shots().items)
        return (
            [plain(shot) for shot in shots],
            [[plain(e) for e in library.exposures(shot.id).items] for shot in live],
            [[plain(e) for e in library.binned(shot.id).items] for shot in live],
            [library.plan(shot.id)[0] for shot in live],
        )


def plain(record: Shot | Exposure) -> Shot | Exposure:
    if isinstance(record, Shot):
        return replace(
            record, revision=0, can_undo=False, can_redo=False, undo_says="", redo_says=""
        )
    return replace(record, revision=0, binned_at=None)


@pytest.mark.parametrize("damage", ["deleted", "overwritten", "cut short"])
def test_a_lost_database_is_rebuilt_whole(tmp_path: Path, damage: str) -> None:
    shot = busy_library(tmp_path)
    before = all_of_it(tmp_path)
    path = tmp_path / "library.db"
    if damage == "deleted":
        path.unlink()
    else:
        path.write_bytes(b"?" * 9000 if damage == "overwritten" else path.read_bytes()[:5000])
    with pytest.raises(StandclearError, match="standclear recover"):
        opened(tmp_path)
    broken = path.read_bytes() if path.exists() else None
    seen: list[tuple[int, int]] = []
    report = recover(tmp_path, SetClock(), lambda done, of: seen.append((done, of)))
    assert all_of_it(tmp_path) == before
    assert (report.shots, report.exposures, report.originals) == (3, 5, 6)
    assert report.appended == report.altered == report.missing == ()
    assert report.lines_passed_over == 0
    assert seen == [(1, 3), (2, 3), (3, 3)]
    if broken is None:
        assert report.moved_aside is None
    else:
        assert report.moved_aside is not None
        assert report.moved_aside.read_bytes() == broken
    with opened(tmp_path) as library:
        assert library.swept.journals == library.swept.missing == library.swept.unclaimed == ()
        new = library.exposure(shot, keep(library, shot, "next"))
        assert new.originals[0].name == "korken-wakes_000009.jpg"
        library.undo(shot)
    assert check(tmp_path).well


def test_recovering_twice_changes_nothing_more(tmp_path: Path) -> None:
    busy_library(tmp_path)
    before = all_of_it(tmp_path)
    for _ in range(2):
        report = recover(tmp_path, SetClock())
        assert report.moved_aside is not None
        assert all_of_it(tmp_path) == before


def test_without_a_journal_the_originals_alone_make_the_shot(tmp_path: Path) -> None:
    shot = busy_library(tmp_path)
    with opened(tmp_path) as library:
        folder = library.shot(shot).folder
    (tmp_path / "shots" / folder / "shot.jsonl").unlink()
    (tmp_path / "library.db").unlink()
    report = recover(tmp_path, SetClock())
    assert len(report.appended) == 6
    with opened(tmp_path) as library:
        (found,) = [s for s in library.shots().items if s.folder == folder]
        assert (found.name, found.frame_rate) == ("korken-wakes", "12")
        exposures = library.exposures(found.id).items
        names = [[o.name[-8:] for o in e.originals] for e in exposures]
        assert names == [
            *(["0001.jpg"], ["0003.jpg"], ["0004.jpg", "0004.nef"], ["0005.jpg"], ["0008.jpg"]),
        ]
        first = exposures[2].originals[0]
        assert (first.media_type, first.width, first.height) == ("image/jpeg", 64, 48)
    assert check(tmp_path).well


def test_a_torn_last_line_costs_the_last_edit_only(tmp_path: Path) -> None:
    with opened(tmp_path) as library:
        shot = library.create_shot("Cork")
        a, b = keep(library, shot.id, "a"), keep(library, shot.id, "b", insert_after="start")
        last = keep(library, shot.id, "last", hold=4, insert_after="start")
    path = tmp_path / "shots" / shot.folder / "shot.jsonl"
    path.write_bytes(path.read_bytes()[:-30])
    (tmp_path / "library.db").unlink()
    report = recover(tmp_path, SetClock())
    assert report.lines_passed_over == 1
    assert report.appended == (f"{shot.folder}/cork_000003.jpg",)
    with opened(tmp_path) as library:
        assert texts(library, shot.id) == ["b", "a", "last"]
        assert order(library, shot.id)[:2] == [b, a]
        assert last not in order(library, shot.id)
        assert replay(journal.read(path)).order == order(library, shot.id)


def test_a_torn_last_line_is_written_again_where_the_database_stands(tmp_path: Path) -> None:
    with opened(tmp_path) as library:
        shot = library.create_shot("Cork")
        keep(library, shot.id, "a")
        keep(library, shot.id, "b", hold=3, insert_after="start")
    path = tmp_path / "shots" / shot.folder / "shot.jsonl"
    path.write_bytes(path.read_bytes()[:-30])
    with opened(tmp_path) as library:
        assert library.swept.journals == (shot.folder,)
        expected = order(library, shot.id)
        assert replay(journal.read(path)).order == expected
        assert replay(journal.read(path)).exposures[expected[0]]["hold"] == 3


def test_altered_and_missing_originals_are_told_and_nothing_is_removed(tmp_path: Path) -> None:
    with opened(tmp_path) as library:
        shot = library.create_shot("Cork")
        a, b, c = (keep(library, shot.id, text) for text in "abc")
        paths = [library.original_path(shot.id, one) for one in (a, b, c)]
    paths[0].write_text("A")
    paths[1].unlink()
    seen: list[tuple[int, int]] = []
    report = check(tmp_path, lambda done, of: seen.append((done, of)))
    assert not report.well
    assert (report.altered, report.missing) == (
        (f"{shot.folder}/cork_000001.jpg",),
        (f"{shot.folder}/cork_000002.jpg",),
    )
    assert seen == [(1, 3), (2, 3), (3, 3)]
    (tmp_path / "library.db").unlink()
    recovered = recover(tmp_path, SetClock())
    assert (recovered.altered, recovered.missing) == (report.altered, report.missing)
    with opened(tmp_path) as library:
        assert order(library, shot.id) == [a, c]
    assert check(tmp_path).altered == report.altered


def test_what_the_bin_was_emptied_of_does_not_come_back(tmp_path: Path) -> None:
    """Killed between the record and the removal, and the database lost: the file is set aside."""
    with opened(tmp_path) as library:
        shot = library.create_shot("Cork").id
        a, b = keep(library, shot, "a"), keep(library, shot, "b")
        path = library.original_path(shot, a)
        library.bin_exposure(shot, a)
        library.empty_bin(shot)
    path.write_text("a")
    (tmp_path / "library.db").unlink()
    report = recover(tmp_path, SetClock())
    assert report.appended == ()
    with opened(tmp_path) as library:
        assert order(library, shot) == [b]
        assert [one.read_text() for one in library.unclaimed()] == ["a"]


def test_a_plan_that_cannot_be_read_does_not_stand_in_the_way(tmp_path: Path) -> None:
    with opened(tmp_path) as library:
        shot = library.create_shot("Cork")
    path = tmp_path / "shots" / shot.folder / "shot.jsonl"
    with path.open("a") as journal_file:
        journal_file.write(json.dumps({"n": 2, "plan": {"actions": [{"label": 5}]}}) + "\n")
    (tmp_path / "library.db").unlink()
    recover(tmp_path, SetClock())
    with opened(tmp_path) as library:
        assert library.plan(shot.id) == (None, 0)
        library.change_shot(shot.id, frame_rate="25")


def test_a_copied_folder_becomes_a_shot_of_its_own(tmp_path: Path) -> None:
    shot = busy_library(tmp_path)
    with opened(tmp_path) as library:
        folder = tmp_path / "shots" / library.shot(shot).folder
    shutil.copytree(folder, folder.with_name("my copy"))
    (tmp_path / "library.db").unlink()
    recover(tmp_path, SetClock())
    with opened(tmp_path) as library:
        same = [s for s in library.shots().items if s.name == "Korken ☕ wakes up"]
        assert len({s.id for s in same}) == 2
        assert len({s.folder for s in same}) == 2
        assert len({one for s in same for one in order(library, s.id)}) == 8


def test_recovering_waits_for_no_service_and_touches_none(tmp_path: Path) -> None:
    busy_library(tmp_path)
    with opened(tmp_path), pytest.raises(StandclearError) as refused:
        recover(tmp_path, SetClock())
    assert refused.value.code == "library_in_use"
    with pytest.raises(StandclearError, match="no library here"):
        recover(tmp_path / "elsewhere", SetClock())


LINES = st.one_of(
    st.binary(max_size=40),
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.text(max_size=8),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(
                st.sampled_from(
                    ["n", "steps", "snapshot", "exposure", "shot", "plan", "gone", "id"]
                ),
                inner,
                max_size=5,
            )
        ),
        max_leaves=12,
    ).map(lambda value: json.dumps(value).encode()),
)


@given(st.lists(LINES, max_size=6))
@settings(max_examples=60, deadline=None)
def test_no_journal_whatever_it_holds_stops_the_recovery(lines: list[bytes]) -> None:
    parsed = [journal.parse(line) for line in lines]
    told = replay(parsed)
    assert told.passed_over <= len(lines)
    assert set(told.order) <= set(told.exposures)


HOSTILE = {
    "id": "../../x",
    "serial": -1,
    "number": None,
    "hold": 10**9,
    "note": "\0",
    "taken_at": 5,
    "settings": 7,
    "originals": [
        {"name": "../../../etc/passwd", "sha256": "x", "size": 1},
        {"name": "cork_000001.jpg", "sha256": None, "size": "big"},
    ],
}


def test_a_hostile_journal_leads_nowhere(tmp_path: Path) -> None:
    place = tmp_path / "shots" / "0001 cork"
    place.mkdir(parents=True)
    (place / "cork_000001.jpg").write_bytes(b"cork")
    lines = [
        {"n": 1, "shot": {"id": "../..", "name": "\0", "frame_rate": "0", "notes": 5}},
        {"n": 2, "exposure": HOSTILE, "steps": [["insert", "../../x", -5], ["eval", "x"]]},
        {"n": 10**30, "steps": [["hold", "../../x", "twelve"]], "plan": [1]},
    ]
    (place / "shot.jsonl").write_text("".join(json.dumps(line) + "\n" for line in lines))
    recover(tmp_path, SetClock())
    with opened(tmp_path) as library:
        (shot,) = library.shots().items
        assert (shot.name, shot.frame_rate, shot.frame_count) == ("cork", "12", 1)
        assert texts(library, shot.id) == ["cork"]
        (one,) = library.exposures(shot.id).items
        assert (one.hold, one.note, dict(one.settings)) == (1, "", {})
