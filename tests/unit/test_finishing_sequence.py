"""What is shown when: exact frames from exposures, holds and choices."""

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standclear.finishing.options import FrameRange, Retime, TimeOptions
from standclear.finishing.problems import CannotExport
from standclear.finishing.sequence import (
    conform,
    exposures_within,
    film_sequence,
    sound_frame,
)
from standclear.finishing.shot import FilmExposure, FilmShot, rate_of


def cork(holds: list[int], rate: str = "12") -> FilmShot:
    exposures = tuple(FilmExposure(Path(f"cork_{n}.jpg"), hold) for n, hold in enumerate(holds))
    return FilmShot("cork wakes", rate, exposures)


def order(shot: FilmShot, **choices: object) -> list[int]:
    return list(film_sequence(shot, TimeOptions.model_validate(choices)).exposures)


def test_one_hundred_and_twenty_exposures_at_twelve_last_ten_seconds():
    assert film_sequence(cork([1] * 120), TimeOptions()).duration == 10


def test_a_hold_of_twelve_at_twelve_frames_lasts_one_second():
    film = film_sequence(cork([1, 12, 1]), TimeOptions())
    hold = film.runs()[1]
    assert (hold.exposure, hold.start, hold.frames) == (1, 1, 12)
    assert hold.frames / film.rate == 1


def test_on_twos_at_twenty_four_shows_twelve_pictures_a_second():
    film = film_sequence(cork([1] * 12, "24"), TimeOptions(frames_each=2))
    assert film.duration == 1
    assert [run.frames for run in film.runs()] == [2] * 12


def test_holds_can_be_ignored():
    assert order(cork([3, 1, 2]), holds=False) == [0, 1, 2]


def test_backwards_looped_with_stills_at_both_ends():
    assert order(cork([1, 2]), reverse=True, loops=2, head_frames=1, tail_frames=2) == [
        1, 1, 1, 0, 1, 1, 0, 0, 0,
    ]  # fmt: skip


def test_a_range_counts_frames_with_holds_expanded():
    assert order(cork([2, 3, 1]), range={"first": 2, "last": 4}) == [0, 1, 1]


def test_accepted_duplicates_are_skipped():
    assert order(cork([1, 2, 1]), leave_out=[2]) == [0, 2]


def test_a_retimed_range_lasts_as_asked_and_keeps_its_order():
    assert order(cork([1] * 6), retime=[{"first": 2, "last": 5, "frames": 8}]) == [
        0, 1, 1, 2, 2, 3, 3, 4, 4, 5,
    ]  # fmt: skip
    assert order(cork([1] * 6), retime=[{"first": 1, "last": 6, "frames": 3}]) == [1, 3, 5]


def test_two_retimed_ranges_do_not_disturb_each_other():
    parts = (Retime(first=5, last=6, frames=1), Retime(first=1, last=2, frames=4))
    assert order(cork([1] * 6), retime=[p.model_dump() for p in parts]) == [0, 0, 1, 1, 2, 3, 5]


@pytest.mark.parametrize(
    ("choices", "says"),
    [
        ({"range": {"first": 9, "last": 12}}, "frames 1 to 4"),
        ({"retime": [{"first": 8, "last": 9, "frames": 2}]}, "no frames 8 to 9"),
        (
            {
                "retime": [
                    {"first": 1, "last": 2, "frames": 2},
                    {"first": 2, "last": 3, "frames": 1},
                ]
            },
            "overlap at frame 2",
        ),
        ({"rate": "a dozen"}, "no frame rate"),
        ({"rate": "0"}, "between 1 and 240"),
    ],
)
def test_what_cannot_be_is_said(choices: dict[str, object], says: str):
    with pytest.raises(CannotExport, match=says):
        order(cork([1] * 4), **choices)


def test_an_empty_shot_says_so():
    with pytest.raises(CannotExport, match="no exposures yet"):
        film_sequence(cork([]), TimeOptions())


def test_ranges_find_the_exposures_that_show_in_them():
    assert exposures_within([2, 3, 1], [FrameRange(first=2, last=3)]) == {0, 1}


def test_the_trade_s_decimal_rates_are_exact_fractions():
    # SMPTE ST 12-1: nominal 29.97 is 30000/1001.
    assert rate_of("29.97") == rate_of("30000/1001") == Fraction(30000, 1001)


@given(
    st.lists(st.integers(0, 50), min_size=1, max_size=200),
    st.sampled_from(["12", "15", "24", "25", "24000/1001"]),
    st.sampled_from(["24", "25", "30", "30000/1001", "60"]),
)
def test_carried_to_another_rate_the_duration_stays_within_half_a_frame(
    frames: list[int], rate: str, file_rate: str
):
    old, new = rate_of(rate), rate_of(file_rate)
    carried = conform(frames, old, new)
    assert abs(len(carried) / new - len(frames) / old) <= Fraction(1, 2) / new
    for place, exposure in enumerate(carried):
        assert exposure == frames[min(len(frames) - 1, int(place / new * old))]


@pytest.mark.parametrize(
    ("choices", "frame"),
    [
        ({}, 6),
        ({"head_frames": 12}, 18),
        ({"range": {"first": 4, "last": 9}}, 3),
        ({"frames_each": 2}, 12),
        ({"file_rate": "24"}, 12),
        ({"reverse": True}, 0),
    ],
)
def test_a_sound_stays_with_the_frame_where_it_was_put(
    choices: dict[str, object], frame: int
) -> None:
    shot = replace(cork([1] * 12), sound_start=6)
    assert sound_frame(shot, TimeOptions.model_validate(choices)) == frame
