"""Two cameras on one shot: one exposure, whose originals come of both, through every edit."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from standclear.cameras.base import Pair, Taken
from standclear.library.library import Library
from standclear.library.recover import recover
from standclear.library.salvage import _pair
from standclear.shooting import describe
from tests.library_kit import SetClock, opened, order, taken
from tests.pictures import jpeg

PAIR = Pair("side", 1, 4.25, {"iso": "400"})


def two() -> Taken:
    return replace(taken(jpeg(64, 48), jpeg(32, 24), kinds=("jpg", "jpg")), pair=PAIR)


def kept_pair(library: Library) -> tuple[str, str]:
    shot = library.create_shot("two sides of a cork").id
    return shot, library.keep(shot, two(), camera="front").id


def test_both_pictures_are_kept_with_whose_they_are_and_how_far_apart(tmp_path: Path) -> None:
    with opened(tmp_path) as library:
        shot, one = kept_pair(library)
        found = describe.exposure(library.exposure(shot, one))
        assert [file["camera"] for file in found["originals"]] == ["front", "side"]
        assert found["pair"] == {
            "camera": "side",
            "from_file": 1,
            "spread_ms": 4.25,
            "settings": {"iso": "400"},
        }
        assert library.preview(shot, one, 160, 0) != library.preview(shot, one, 160, 1)


def test_undo_and_retake_move_both_at_once(tmp_path: Path) -> None:
    with opened(tmp_path) as library:
        shot, one = kept_pair(library)
        again = library.keep(shot, two(), camera="front", replaces=one).id
        assert order(library, shot) == [again]
        library.undo(shot)
        assert order(library, shot) == [one]
        back = library.exposure(shot, one)
        assert len(back.originals) == 2
        assert back.pair is not None


def test_recovery_knows_them_apart_from_the_journal_alone(tmp_path: Path) -> None:
    with opened(tmp_path) as library:
        shot, one = kept_pair(library)
        before = library.exposure(shot, one)
    (tmp_path / "library.db").unlink()
    recover(tmp_path, SetClock())
    with opened(tmp_path) as library:
        after = library.exposure(shot, one)
    assert after.pair == before.pair
    assert [file.sha256 for file in after.originals] == [f.sha256 for f in before.originals]


@pytest.mark.parametrize(
    "said",
    [
        "side",
        {},
        {"from_file": "1", "spread_ms": 1},
        {"from_file": 0, "spread_ms": 1},
        {"from_file": 2, "spread_ms": 1},
        {"from_file": 1, "spread_ms": "near"},
    ],
    ids=json.dumps,
)
def test_a_journal_is_not_believed_what_cannot_be(said: object) -> None:
    assert _pair(said, files=2) is None


def test_one_camera_alone_says_nothing_of_a_second(tmp_path: Path) -> None:
    with opened(tmp_path) as library:
        shot = library.create_shot("alone").id
        one = library.keep(shot, taken(jpeg(64, 48)), camera="front").id
        found = describe.exposure(library.exposure(shot, one))
    assert found["pair"] is None
    assert found["originals"][0]["camera"] == "front"
