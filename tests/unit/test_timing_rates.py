"""Rates, numbers and durations are exact, and what cannot be is refused with a sentence."""

import os
import random
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standclear.timing.durations import (
    Duration,
    beat_of_frame,
    duration,
    exposures_needed,
    frame_ends,
    holds,
    parse_tempo,
)
from standclear.timing.errors import PlanError, TimingError
from standclear.timing.numbers import exact, number_text
from standclear.timing.rates import parse_rate, rate_text, timebase

LONG = os.environ.get("STANDCLEAR_LONG") == "1"
TWELVE = Fraction(12)


@pytest.mark.parametrize(
    ("text", "rate"),
    [
        ("12", Fraction(12)),
        ("24000/1001", Fraction(24000, 1001)),
        ("29.97", Fraction(30000, 1001)),
        (29.97, Fraction(30000, 1001)),
        (24, Fraction(24)),
        ("12.5", Fraction(25, 2)),
    ],
)
def test_a_rate_is_read_exactly(text: object, rate: Fraction) -> None:
    assert parse_rate(text) == rate
    assert parse_rate(rate_text(rate)) == rate


@pytest.mark.parametrize(
    "text",
    [
        "0",
        "-12",
        "nan",
        "inf",
        "1/0",
        "",
        "1e9",
        "241",
        "1/2",
        float("nan"),
        float("inf"),
        0,
        None,
        True,
        "12 fps",
        "9" * 100000,
        "1/3000000000000",
        "24000/1000001",
    ],
)
def test_an_impossible_rate_is_refused_with_a_sentence(text: object) -> None:
    with pytest.raises(TimingError) as refused:
        parse_rate(text)
    assert refused.value.sentence.endswith(".")
    assert len(refused.value.sentence) < 200


def test_timecode_counts_thirty_numbers_at_30000_1001() -> None:
    assert timebase(Fraction(30000, 1001)) == 30
    assert timebase(Fraction(24000, 1001)) == 24
    assert timebase(Fraction(25)) == 25


# Common practice, no source: at 12 fps one second is 12 pictures, half is 6, ten are 120.
@pytest.mark.parametrize(("seconds", "frames"), [("1", 12), ("0.5", 6), ("10", 120)])
def test_seconds_become_the_frames_the_trade_counts(seconds: str, frames: int) -> None:
    assert frame_ends([duration(seconds)], TWELVE) == (frames,)


def test_beats_follow_the_tempo() -> None:
    assert frame_ends([duration(4, "beats")], Fraction(24), parse_tempo(120)) == (48,)
    with pytest.raises(PlanError, match="tempo"):
        frame_ends([duration(4, "beats")], Fraction(24))


def test_each_beat_falls_on_one_frame_and_no_other_frame_has_one() -> None:
    found = [beat_of_frame(f, Fraction(24), Fraction(100)) for f in range(24 * 60)]
    assert [b for b in found if b is not None] == list(range(100))


def test_on_twos_an_odd_frame_is_still_shot() -> None:
    assert exposures_needed(24, 2) == 12
    assert exposures_needed(5, 2) == 3
    assert holds(5, 2) == (2, 2, 1)
    assert holds(9, 3) == (3, 3, 3)


@given(st.integers(1, 10_000), st.integers(1, 24))
def test_holds_show_all_frames_with_the_exposures_needed(frames: int, on: int) -> None:
    assert sum(holds(frames, on)) == frames
    assert len(holds(frames, on)) == exposures_needed(frames, on)


@given(st.fractions(max_denominator=10**8, min_value=-(10**9), max_value=10**9))
def test_a_number_survives_being_written(value: Fraction) -> None:
    assert exact(number_text(value)) == value


@given(st.text(max_size=40))
def test_any_text_is_a_number_or_refused(text: str) -> None:
    try:
        exact(text)
    except TimingError as error:
        assert error.sentence  # noqa: PT017


@pytest.mark.parametrize("value", [0, -1, float("nan"), float("inf"), "1e9", 10**12, "soon", None])
def test_a_bad_duration_is_refused(value: object) -> None:
    with pytest.raises(PlanError):
        duration(value)


def test_a_billion_seconds_are_refused_at_once() -> None:
    with pytest.raises(PlanError, match="24 hours") as refused:
        frame_ends([duration(1), duration(10**9)], TWELVE)
    assert refused.value.line == 2


def test_less_than_a_frame_is_refused_with_its_place() -> None:
    with pytest.raises(PlanError, match="shorter than one frame") as refused:
        frame_ends([duration(1), duration("0.04")], TWELVE)
    assert refused.value.line == 2


def test_random_plans_keep_their_sum_to_the_frame() -> None:
    """Rounding each action by itself drifts by up to half a frame an action; this must not."""
    rng = random.Random(5)
    rates = [Fraction(12), Fraction(24), Fraction(25), Fraction(30000, 1001), Fraction(24000, 1001)]
    for _ in range(1_000_000 if LONG else 10_000):
        rate, tempo = rng.choice(rates), Fraction(rng.randint(400, 2000), 10)
        plan = [_some_duration(rng) for _ in range(rng.randint(1, 12))]
        ends = frame_ends(plan, rate, tempo)
        whole = sum((item.exact_frames(rate, tempo) for item in plan), Fraction(0))
        assert abs(ends[-1] - whole) <= Fraction(1, 2)
        frames = [b - a for a, b in zip((0, *ends), ends, strict=False)]
        assert sum(frames) == ends[-1]
        assert min(frames) >= 1
        for item, given_frames in zip(plan, frames, strict=True):
            assert abs(given_frames - item.exact_frames(rate, tempo)) <= 1
            if item.unit == "frames":
                assert given_frames == item.value


def _some_duration(rng: random.Random) -> Duration:
    unit = rng.choice(("s", "frames", "beats"))
    if unit == "frames":
        return Duration(Fraction(rng.randint(1, 99)), "frames")
    return Duration(Fraction(rng.randint(500, 9999), 1000), unit)  # type: ignore[arg-type]
