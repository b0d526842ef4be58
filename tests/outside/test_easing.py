"""Easing against CSS Easing Functions Level 1, a browser, and the physics of falling."""

import math
import random
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from playwright.sync_api import Browser
from scipy.optimize import brentq

from standclear.timing.easing import (
    EASE_BOTH,
    EASE_IN,
    EASE_OUT,
    LINEAR,
    Bounce,
    CubicBezier,
    FreeFall,
    HandTicks,
    has_slow_part,
)
from standclear.timing.easing_text import easing_text, parse_easing
from standclear.timing.errors import TimingError
from standclear.timing.gravity import GRAVITY_MM_S2, fall_seconds, fallen_mm, parse_scale

IN_THE_BROWSER = """(curves) => curves.map(([x1, y1, x2, y2, times]) => {
  const effect = new KeyframeEffect(document.body, [{opacity: 0}, {opacity: 1}],
    {duration: 1000, fill: 'both', easing: `cubic-bezier(${x1}, ${y1}, ${x2}, ${y2})`});
  const animation = new Animation(effect, document.timeline);
  animation.pause();
  return times.map(time => {
    animation.currentTime = time * 1000;
    return effect.getComputedTiming().progress;
  });
})"""


def test_a_thousand_random_curves_agree_with_chromium(chromium: Browser) -> None:
    rng = random.Random(1)
    curves = [
        [
            rng.random(),
            rng.uniform(-1.5, 2.5),
            rng.random(),
            rng.uniform(-1.5, 2.5),
            [rng.random() for _ in range(20)],
        ]
        for _ in range(1000)
    ]
    page = chromium.new_page()
    theirs = page.evaluate(IN_THE_BROWSER, curves)
    page.close()
    worst = 0.0
    for (x1, y1, x2, y2, times), seen in zip(curves, theirs, strict=True):
        ours = [CubicBezier(x1, y1, x2, y2)(time) for time in times]
        worst = max(worst, *(abs(a - b) for a, b in zip(ours, seen, strict=True)))
    print(f"worst difference from Chromium over 20,000 points: {worst:.2e}")
    assert worst < 1e-4


def test_the_keywords_are_the_curves_in_the_standards_text() -> None:
    """CSS Easing Functions Level 1, 2.2: the keywords' equivalents as cubic-bezier()."""
    assert CubicBezier(0.42, 0, 1, 1) == EASE_IN
    assert CubicBezier(0, 0, 0.58, 1) == EASE_OUT
    assert CubicBezier(0.42, 0, 0.58, 1) == EASE_BOTH
    for n in range(101):
        assert LINEAR(n / 100) == pytest.approx(n / 100, abs=1e-12)


@given(
    st.tuples(st.floats(0, 1), st.floats(-2, 3), st.floats(0, 1), st.floats(-2, 3)),
    st.floats(0, 1),
)
def test_the_curve_solves_the_beziers_own_definition(
    p: tuple[float, float, float, float], time: float
) -> None:
    """The standard: find the parameter at which x is the time; the progress is y there."""

    def at(s: float, a: float, b: float) -> float:
        return 3 * (1 - s) ** 2 * s * a + 3 * (1 - s) * s**2 * b + s**3

    solved = brentq(lambda s: at(s, p[0], p[2]) - time, 0, 1, xtol=1e-15, rtol=1e-14)
    # Where a curve stands still in time, many parameters fit and the progress jumps: compare times.
    ours = CubicBezier(*p)(time)
    near = [at(solved + d, p[1], p[3]) for d in (-2e-5, 0, 2e-5)]
    assert min(near) - 1e-6 <= ours <= max(near) + 1e-6


def test_outside_its_time_a_curve_goes_straight_on() -> None:
    """CSS Easing Functions Level 1: before 0 and after 1 the tangent is followed."""
    curve = CubicBezier(0.25, 0.5, 0.5, 0.75)
    assert curve(-0.5) == pytest.approx(-1.0)
    assert curve(1.5) == pytest.approx(1 + 0.5 * 0.25 / 0.5)
    assert CubicBezier(0, 0.4, 1, 0.2)(-1) == 0
    assert CubicBezier(0, 0, 1, 1)(-1) == pytest.approx(-1)
    assert CubicBezier(0, 0, 1, 1)(2) == pytest.approx(2)


def test_free_fall_follows_the_odd_number_rule() -> None:
    """Galileo: the ways in equal times are as 1 : 3 : 5 : 7 …"""
    ways = [b - a for a, b in pairwise(FreeFall()(n / 8) for n in range(9))]
    assert [way / ways[0] for way in ways] == pytest.approx([1, 3, 5, 7, 9, 11, 13, 15])


def test_free_fall_agrees_with_half_g_t_squared_at_the_sets_scale() -> None:
    """s = g t²/2 with g = 9.80665 m/s²; a 1:6 set falls as something six times as high."""
    assert fall_seconds(1000) == pytest.approx(math.sqrt(2 / 9.80665))
    assert fall_seconds(100, 6) == pytest.approx(math.sqrt(2 * 0.6 / 9.80665))
    assert fallen_mm(fall_seconds(123, 6), 6) == pytest.approx(123)
    assert fallen_mm(0.5, 1) == pytest.approx(0.5 * GRAVITY_MM_S2 * 0.25)


def test_a_bounce_agrees_with_a_ball_stepped_through_time() -> None:
    """Semi-exact steps of s'' = g, the speed turned round and cut by e at each contact."""
    e, times = 0.7, 3
    bounce = Bounce(e, times)
    steps, elapsed, height, speed = 200_000, 0.0, 1.0, 0.0
    dt = bounce.falls / steps
    for n in range(1, steps):
        height, speed = height - speed * dt - dt * dt, speed + 2 * dt  # g = 2, so a fall lasts 1
        elapsed += dt
        if height < 0:
            height, speed = -height, -e * speed
        if n % 1000 == 0:
            assert bounce(elapsed / bounce.falls) == pytest.approx(1 - height, abs=2e-3)
    assert bounce(1) == 1


def test_spacing_by_hand_is_kept_to_the_tick() -> None:
    hand = HandTicks((0.1, 0.4, 0.5, 1.0))
    assert [hand(n / 4) for n in range(5)] == [0, 0.1, 0.4, 0.5, 1.0]
    assert hand(0.125) == pytest.approx(0.05)


def test_linear_has_no_slow_part_and_easing_has() -> None:
    assert not has_slow_part(LINEAR)
    assert all(has_slow_part(curve) for curve in (EASE_IN, EASE_OUT, EASE_BOTH, FreeFall()))


number = st.integers(-2000, 3000).map(lambda n: n / 1000)
share = st.integers(0, 1000).map(lambda n: n / 1000)
easings = st.one_of(
    st.sampled_from([LINEAR, EASE_IN, EASE_OUT, EASE_BOTH, FreeFall()]),
    st.builds(CubicBezier, share, number, share, number),
    st.builds(Bounce, st.integers(1, 999).map(lambda n: n / 1000), st.integers(1, 20)),
    st.builds(HandTicks, st.lists(number, min_size=1, max_size=30).map(tuple)),
)


@given(easings)
def test_an_easing_survives_being_written(easing: CubicBezier) -> None:
    assert parse_easing(easing_text(easing)) == easing


@pytest.mark.parametrize(
    "text",
    [
        "",
        "swing",
        "bezier",
        "bezier 1 2 3",
        "bezier -0.1 0 1 1",
        "bezier 0 0 1.01 1",
        "bounce 1",
        "bounce 0.5 0.5",
        "ticks",
        "ticks nan",
        "bezier 0 1e300 1 1",
        "bounce 0.5 21",
        "x" * 10**6,
    ],
)
def test_an_easing_that_cannot_be_is_refused(text: str) -> None:
    with pytest.raises(TimingError) as refused:
        parse_easing(text)
    assert len(refused.value.sentence) < 200


def test_a_scale_is_read_as_it_is_written() -> None:
    assert parse_scale("1:6") == 6
    assert parse_scale("2:1") == Fraction(1, 2)
    assert parse_scale(12) == 12
    for bad in ("0:1", "1:0", "1:x", "-1:6", "1:9999", "1:6:2"):
        with pytest.raises(TimingError):
            parse_scale(bad)
