"""Keeping, ordering, editing and binning exposures."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from standclear.cameras.base import Taken
from standclear.errors import ChangedElsewhere, Conflict, Invalid, NotFound, StorageError
from standclear.library import keeping
from standclear.library.library import Library
from tests.library_kit import BEGIN, keep, opened, order, sha256, taken, texts


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    with opened(tmp_path / "library") as library:
        yield library


@pytest.fixture
def shot(library: Library) -> str:
    return library.create_shot("Cork wakes").id


def test_an_original_is_kept_byte_for_byte_with_all_that_is_known(
    library: Library, shot: str
) -> None:
    data = bytes(range(256)) * 40
    kept = library.keep(shot, taken(data), camera="rehearsal set")
    path = library.original_path(shot, kept.id)
    assert path.read_bytes() == data
    assert path.name == "cork-wakes_000001.jpg"
    assert library.exposure(shot, kept.id) == kept
    (file,) = kept.originals
    assert (file.size, file.sha256) == (len(data), sha256(data))
    assert (file.media_type, file.width, file.height) == ("image/jpeg", 64, 48)
    assert (kept.camera, kept.taken_at, kept.number, kept.hold) == ("rehearsal set", BEGIN, 1, 1)
    assert kept.settings == {"shutter": "1/50", "iso": "100"}


def test_raw_and_jpeg_are_one_exposure(library: Library, shot: str) -> None:
    kept = library.keep(shot, taken(b"jpeg", b"raw", kinds=("jpg", "nef")), camera="toy")
    assert [file.name for file in kept.originals] == [
        "cork-wakes_000001.jpg",
        "cork-wakes_000001.nef",
    ]
    assert library.original_path(shot, kept.id, 1).read_bytes() == b"raw"
    with pytest.raises(NotFound):
        library.original_path(shot, kept.id, 2)
    assert library.shot(shot).exposure_count == 1


def test_two_files_of_one_kind_do_not_overwrite_each_other(library: Library, shot: str) -> None:
    kept = library.keep(shot, taken(b"one", b"two", kinds=("jpg", "JPG")), camera="toy")
    read = [library.original_path(shot, kept.id, n).read_bytes() for n in (0, 1)]
    assert read == [b"one", b"two"]


def test_names_sort_in_the_order_of_shooting_wherever_the_exposure_goes(
    library: Library, shot: str
) -> None:
    for n in range(12):
        keep(library, shot, str(n), insert_after="start")
    files = sorted((library.folder / "shots" / library.shot(shot).folder).glob("*.jpg"))
    assert [file.read_text() for file in files] == [str(n) for n in range(12)]
    assert texts(library, shot) == [str(n) for n in reversed(range(12))]


def test_a_file_that_is_there_already_is_never_written_over(library: Library, shot: str) -> None:
    stranger = library.folder / "shots" / library.shot(shot).folder / "cork-wakes_000001.jpg"
    stranger.write_text("a copy made by hand")
    kept = library.exposure(shot, keep(library, shot, "new"))
    assert kept.originals[0].name == "cork-wakes_000002.jpg"
    assert stranger.read_text() == "a copy made by hand"


def test_nothing_to_keep_is_refused(library: Library, shot: str) -> None:
    for nothing in (Taken((), BEGIN, {}), taken(b"")):
        with pytest.raises(Invalid):
            library.keep(shot, nothing, camera="toy")
    assert library.shot(shot).exposure_count == 0


def test_insert_goes_after_its_neighbour_or_to_the_start(library: Library, shot: str) -> None:
    a, b = keep(library, shot, "a"), keep(library, shot, "b")
    c = keep(library, shot, "c", insert_after=a)
    d = keep(library, shot, "d", insert_after="start")
    e = keep(library, shot, "e", insert_after=b)
    assert order(library, shot) == [d, a, c, b, e]
    assert library.undo(shot).redo_says == "take exposure 5"
    assert library.undo(shot).redo_says == "insert exposure 1"


def test_a_retake_takes_place_and_hold_and_the_old_one_goes_to_the_bin(
    library: Library, shot: str
) -> None:
    a, b, c = (keep(library, shot, text) for text in "abc")
    library.change_exposure(shot, b, hold=3)
    new = keep(library, shot, "new", replaces=b)
    assert order(library, shot) == [a, new, c]
    assert library.exposure(shot, new).hold == 3
    assert [e.id for e in library.binned(shot).items] == [b]
    assert library.shot(shot).frame_count == 5
    assert library.undo(shot).redo_says == "retake exposure 2"
    assert order(library, shot) == [a, b, c]
    library.redo(shot)
    assert order(library, shot) == [a, new, c]
    other = keep(library, shot, "other", replaces=new, hold=1)
    assert library.exposure(shot, other).hold == 1


def test_a_picture_is_not_lost_because_its_neighbour_went_to_the_bin(
    library: Library, shot: str
) -> None:
    a, b = keep(library, shot, "a"), keep(library, shot, "b")
    library.bin_exposure(shot, a)
    with pytest.raises(Conflict):
        library.check_place(shot, insert_after=a)
    with pytest.raises(Conflict):
        library.check_place(shot, replaces=a)
    c, d = keep(library, shot, "c", insert_after=a), keep(library, shot, "d", replaces=a)
    assert order(library, shot) == [b, c, d]


def test_a_place_that_never_was_is_told_before_the_shutter_opens(
    library: Library, shot: str
) -> None:
    elsewhere = library.create_shot("Other").id
    foreign = keep(library, elsewhere)
    for place in ({"insert_after": "nowhere"}, {"replaces": "start"}, {"insert_after": foreign}):
        with pytest.raises(NotFound):
            library.check_place(shot, **place)
    with pytest.raises(Invalid):
        library.check_place(shot, hold=0)
    with pytest.raises(Invalid):
        library.check_place(elsewhere, insert_after=foreign, replaces=foreign)
    library.check_place(shot, insert_after="start")


def test_hold_and_note_change_within_their_bounds(library: Library, shot: str) -> None:
    one = keep(library, shot)
    kept = library.change_exposure(shot, one, hold=10_000, note="the ear\nslipped")
    assert (kept.hold, kept.note) == (10_000, "the ear\nslipped")
    assert library.shot(shot).frame_count == 10_000
    for hold in (0, -1, 10_001, 10**9, True):
        with pytest.raises(Invalid):
            library.change_exposure(shot, one, hold=hold)
    for note in ("x" * 2001, "a\0b", "\ud800"):
        with pytest.raises(Invalid):
            library.change_exposure(shot, one, note=note)
    assert library.exposure(shot, one) == kept
    library.undo(shot)
    assert (library.exposure(shot, one).hold, library.exposure(shot, one).note) == (1, "")


def test_a_change_on_an_old_reading_is_refused(library: Library, shot: str) -> None:
    one = keep(library, shot)
    seen = library.exposure(shot, one).revision
    library.put_verdict(one, {"state": "clear"})
    library.change_exposure(shot, one, hold=2, if_revision=seen)
    with pytest.raises(ChangedElsewhere):
        library.change_exposure(shot, one, hold=3, if_revision=seen)
    with pytest.raises(ChangedElsewhere):
        library.bin_exposure(shot, one, if_revision=seen)
    assert library.exposure(shot, one).hold == 2


def test_deleting_moves_to_the_bin_and_restoring_brings_back_to_the_place(
    library: Library, shot: str
) -> None:
    a, b, c = (keep(library, shot, text) for text in "abc")
    gone = library.bin_exposure(shot, b)
    assert gone.number is None
    assert gone.binned_at == BEGIN
    assert order(library, shot) == [a, c]
    assert library.original_path(shot, b).read_text() == "b"
    for change in (library.bin_exposure, library.change_exposure):
        with pytest.raises(Conflict):
            change(shot, b, **({"hold": 2} if change == library.change_exposure else {}))
    assert library.restore_exposure(shot, b).number == 2
    assert order(library, shot) == [a, b, c]
    with pytest.raises(Conflict):
        library.restore_exposure(shot, b)
    assert library.undo(shot).redo_says == "restore exposure 2"
    assert order(library, shot) == [a, c]


def test_only_emptying_the_bin_removes_and_forgets_the_steps_that_need_it(
    library: Library, shot: str
) -> None:
    a, b = keep(library, shot, "a"), keep(library, shot, "b")
    library.bin_exposure(shot, a)
    library.change_exposure(shot, b, hold=2)
    path = library.original_path(shot, a)
    assert library.empty_bin(shot) == [a]
    assert not path.exists()
    assert library.original_path(shot, b).read_text() == "b"
    with pytest.raises(NotFound):
        library.exposure(shot, a)
    assert library.undo(shot).undo_says == ""
    assert not library.shot(shot).can_undo
    assert library.redo(shot).frame_count == 2
    assert library.empty_bin(shot) == []
    name = library.exposure(shot, keep(library, shot, "c")).originals[0].name
    assert name == "cork-wakes_000003.jpg"


def test_redo_is_forgotten_when_its_exposure_is_gone(library: Library, shot: str) -> None:
    a = keep(library, shot, "a")
    library.change_exposure(shot, a, note="still here")
    keep(library, shot, "b")
    library.undo(shot)
    library.undo(shot)
    library.empty_bin(shot)
    assert library.shot(shot).redo_says == "change the note of exposure 1"
    assert not library.redo(shot).can_redo


def test_a_page_goes_on_where_it_ended_though_its_last_exposure_has_gone(
    library: Library, shot: str
) -> None:
    kept = [keep(library, shot, str(n)) for n in range(6)]
    first = library.exposures(shot, limit=3)
    library.bin_exposure(shot, kept[2])
    assert [e.id for e in library.exposures(shot, after=first.next).items] == kept[3:]
    assert [e.id for e in library.exposures(shot, after=kept[3]).items] == kept[4:]
    for wrong in ("x", "../..", "9" * 30, "1.2.3\0", ""):
        with pytest.raises(Invalid):
            library.exposures(shot, after=wrong)


def test_what_is_not_there_is_not_found(library: Library, shot: str) -> None:
    one = keep(library, shot)
    other = library.create_shot("Other").id
    for shot_id, exposure_id in (
        (shot, "x" * 10_000),
        (other, one),
        ("../" * 9, one),
        ("\0", one),
        (shot, "\ud800"),
    ):
        with pytest.raises(NotFound):
            library.exposure(shot_id, exposure_id)
        with pytest.raises(NotFound):
            library.original_path(shot_id, exposure_id)
    with pytest.raises(NotFound):
        library.put_verdict("nobody", {})
    with pytest.raises(NotFound):
        library.shot("\ud800")
    with pytest.raises(NotFound):
        library.check_place(shot, insert_after="\ud800")


def test_a_camera_label_that_is_no_text_costs_no_picture(library: Library, shot: str) -> None:
    kept = library.keep(shot, taken(b"cork"), camera="toy \udcff camera")
    assert library.exposure(shot, kept.id).camera == kept.camera == "toy ? camera"


def test_too_little_room_is_told_before_the_shutter_opens(
    library: Library, shot: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    library.make_sure_of_room(shot)
    library.keep(shot, taken(bytes(500_000), bytes(500_000), kinds=("jpg", "nef")), camera="toy")
    usage = shutil.disk_usage(library.folder)
    free = keeping.ROOM_FOR_RECORD + 2_000_000
    monkeypatch.setattr(shutil, "disk_usage", lambda _path: usage._replace(free=free))
    library.make_sure_of_room(shot)
    monkeypatch.setattr(shutil, "disk_usage", lambda _path: usage._replace(free=free - 1))
    with pytest.raises(StorageError) as full:
        library.make_sure_of_room(shot)
    assert full.value.code == "disk_full"


def test_a_verdict_is_kept_and_is_no_edit(library: Library, shot: str) -> None:
    one = keep(library, shot)
    before = library.shot(shot)
    assert library.exposure(shot, one).verdict is None
    verdict = {"state": "flagged", "watches": {"light": {"figures": {"step_stops": 0.12}}}}
    assert library.put_verdict(one, verdict).verdict == verdict
    assert library.exposure(shot, one).verdict == verdict
    assert library.shot(shot) == before


def test_an_outline_names_all_exposures_in_order(library: Library, shot: str) -> None:
    a, b, c = keep(library, shot, hold=2), keep(library, shot), keep(library, shot)
    library.bin_exposure(shot, b)
    outline = [(line.id, line.number, line.hold) for line in library.outline(shot)]
    assert outline == [(a, 1, 2), (c, 2, 1)]
