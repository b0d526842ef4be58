"""Shots: names of any kind, frame rates, the bin, revisions, the plan."""

import unicodedata
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standclear.errors import ChangedElsewhere, Invalid, NotFound
from standclear.library import naming, values
from standclear.library.library import Library
from standclear.timing.plan import Plan
from standclear.timing.plan_convert import stored
from standclear.timing.plan_text import parse_plan
from tests.library_kit import IN_MEMORY, keep, opened

NAMES = [
    "Cork wakes",
    "../../etc/passwd",
    "..",
    "a/b\\c",
    "CON",
    "nul.txt",
    "☕🐾",
    "\u202eeman thgir ot tfel",
    "كورك",
    "Kork\u0301 é",
    "x" * 200,
    "<script>alert(1)</script>",
    "'; DROP TABLE shots; --",
    "%s %d {0}",
    "-rf",
]
ABSURD_RATES = [
    *("0", "0/1", "24/0", "121", "1/2", "-12", "1e3", "nan", "inf", "", "twelve", "24/1001/3"),
    *("٢٤", "12\0", "9" * 400, "999999999999/999999999"),
]


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    with opened(tmp_path / "library") as library:
        yield library


@pytest.fixture(scope="module")
def shelf() -> Iterator[Library]:
    """One library for all that is tried many times."""
    with TemporaryDirectory(dir=IN_MEMORY) as folder, opened(Path(folder)) as library:
        yield library


@pytest.mark.parametrize("name", NAMES)
def test_any_name_is_kept_verbatim_and_never_reaches_the_disk_as_it_is(
    shelf: Library, name: str
) -> None:
    shot = shelf.create_shot(name)
    assert shelf.shot(shot.id).name == name
    keep(shelf, shot.id)
    path = shelf.original_path(shot.id, shelf.exposures(shot.id).items[0].id)
    assert path.parent.parent == shelf.folder / "shots"
    assert path.is_file()
    assert set(path.name) <= set("abcdefghijklmnopqrstuvwxyz0123456789-_.")


@pytest.mark.parametrize(
    "name", ["", "   ", "a\0b", "line\nbreak", "\x1b[31m", "\ud800", "x" * 10_000]
)
def test_a_name_that_cannot_be_a_name_is_refused_in_a_sentence(shelf: Library, name: str) -> None:
    before = len(shelf.shots(limit=200).items)
    with pytest.raises(Invalid) as refused:
        shelf.create_shot(name)
    assert refused.value.extra["errors"][0]["field"] == "name"
    assert len(shelf.shots(limit=200).items) == before
    assert len(list((shelf.folder / "shots").iterdir())) == before


@given(st.text())
def test_a_slug_is_safe_on_every_file_system(name: str) -> None:
    slug = naming.slug(name)
    assert 1 <= len(slug) <= naming.SLUG_MAX
    assert set(slug) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
    assert not slug.startswith("-")
    folder = naming.shot_folder(7, slug)
    assert naming.folder_parts(folder) == (7, slug)
    file = naming.original_names(slug, 12, ["jpg"])[0]
    assert naming.serial_of(file) == 12


@given(st.text(max_size=300))
def test_names_are_kept_or_refused_never_changed_inside(name: str) -> None:
    try:
        kept = values.name(name)
    except Invalid:
        return
    assert kept == name.strip()
    assert not any(unicodedata.category(c) in {"Cc", "Cs"} for c in kept)
    kept.encode()  # can be written


@pytest.mark.parametrize("rate", ["12", "24", "24000/1001", "1", "120", "120/1", " 25 "])
def test_a_frame_rate_of_the_trade_is_taken(shelf: Library, rate: str) -> None:
    assert shelf.create_shot("Cork", frame_rate=rate).frame_rate == rate.strip()


@pytest.mark.parametrize("rate", ABSURD_RATES)
def test_a_zero_or_absurd_frame_rate_is_refused(shelf: Library, rate: str) -> None:
    shot = shelf.create_shot("Cork")
    with pytest.raises(Invalid, match="frame rate"):
        shelf.create_shot("Cork", frame_rate=rate)
    with pytest.raises(Invalid, match="frame rate"):
        shelf.change_shot(shot.id, frame_rate=rate)
    assert shelf.shot(shot.id) == shot


def test_two_shots_of_one_name_have_folders_of_their_own(library: Library) -> None:
    folders = [library.create_shot("Cork").folder for _ in range(3)]
    assert folders == ["0001 cork", "0002 cork", "0003 cork"]


def test_renaming_renames_nothing_on_disk_and_can_be_undone(library: Library) -> None:
    shot = library.create_shot("Cork wakes")
    first = keep(library, shot.id)
    changed = library.change_shot(shot.id, name="Cork sleeps", frame_rate="24")
    assert (changed.name, changed.frame_rate, changed.folder) == ("Cork sleeps", "24", shot.folder)
    assert changed.undo_says == "rename the shot and change the frame rate"
    keep(library, shot.id)
    assert library.original_path(shot.id, first).name == "cork-wakes_000001.jpg"
    library.undo(shot.id)
    back = library.undo(shot.id)
    assert (back.name, back.frame_rate) == ("Cork wakes", "12")
    assert library.redo(shot.id).name == "Cork sleeps"


def test_a_change_that_changes_nothing_is_no_edit(library: Library) -> None:
    shot = library.create_shot("Cork")
    assert library.change_shot(shot.id, name="Cork", frame_rate="12", notes="") == shot


def test_a_change_on_an_old_reading_is_refused(library: Library) -> None:
    shot = library.create_shot("Cork")
    library.change_shot(shot.id, name="Cork 2", if_revision=shot.revision)
    with pytest.raises(ChangedElsewhere):
        library.change_shot(shot.id, name="Cork 3", if_revision=shot.revision)
    with pytest.raises(ChangedElsewhere):
        library.bin_shot(shot.id, if_revision=shot.revision)
    assert library.shot(shot.id).name == "Cork 2"


def test_a_binned_shot_is_out_of_sight_and_comes_back_whole(library: Library) -> None:
    shot = library.create_shot("Cork")
    keep(library, shot.id)
    library.bin_shot(shot.id)
    assert list(library.shots().items) == []
    assert [s.id for s in library.binned_shots().items] == [shot.id]
    for look in (library.shot, library.exposures, library.playback, library.undo):
        with pytest.raises(NotFound):
            look(shot.id)
    with pytest.raises(NotFound):
        keep(library, shot.id)
    assert library.restore_shot(shot.id).exposure_count == 1
    assert library.exposures(shot.id).items[0].number == 1


def test_shots_come_in_pages_in_the_order_they_were_made(library: Library) -> None:
    made = [library.create_shot(f"Cork {n}").id for n in range(5)]
    first = library.shots(limit=2)
    second = library.shots(after=first.next, limit=2)
    third = library.shots(after=second.next, limit=2)
    assert [s.id for page in (first, second, third) for s in page.items] == made
    assert third.next is None
    for limit in (0, -1, 10**9):
        with pytest.raises(Invalid):
            library.shots(limit=limit)


def test_a_plan_has_a_revision_of_its_own(library: Library) -> None:
    shot = library.create_shot("Cork")
    assert library.plan(shot.id) == (None, 0)
    plan = stored(parse_plan("wait 1 s", Fraction(12)))
    assert library.put_plan(shot.id, plan, if_revision=0) == 1
    with pytest.raises(ChangedElsewhere):
        library.put_plan(shot.id, stored(Plan(Fraction(12))), if_revision=0)
    assert library.plan(shot.id) == (plan, 1)
    assert library.shot(shot.id).revision == shot.revision


def test_a_plan_that_the_shots_rate_cannot_show_is_not_kept(library: Library) -> None:
    """Made at another rate than the shot's, which was changed on another phone meanwhile."""
    shot = library.create_shot("Cork", "8")
    plan = stored(parse_plan("blink 1/24 s", Fraction(24)))
    with pytest.raises(Invalid, match="does not fit 8 frames per second"):
        library.put_plan(shot.id, plan, if_revision=0)
    assert library.plan(shot.id) == (None, 0)
