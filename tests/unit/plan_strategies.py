"""Random plans for Hypothesis: every kind of action, name, easing and path that may be typed."""

import math
from fractions import Fraction
from itertools import pairwise

from hypothesis import strategies as st

from standclear.timing.durations import Duration
from standclear.timing.easing import (
    EASE_BOTH,
    EASE_IN,
    EASE_OUT,
    LINEAR,
    Bounce,
    CubicBezier,
    FreeFall,
    HandTicks,
)
from standclear.timing.plan import PACES, Action, Move, Pace, Plan

thousandths = st.integers(-2000, 3000).map(lambda n: n / 1000)
shares = st.integers(0, 1000).map(lambda n: n / 1000)
easings = st.one_of(
    st.sampled_from([LINEAR, EASE_IN, EASE_OUT, EASE_BOTH, FreeFall()]),
    st.builds(CubicBezier, shares, thousandths, shares, thousandths),
    st.builds(Bounce, st.integers(1, 999).map(lambda n: n / 1000), st.integers(1, 20)),
    st.builds(HandTicks, st.lists(thousandths, min_size=1, max_size=12).map(tuple)),
)
amounts = st.fractions(min_value=1, max_value=500, max_denominator=10_000)
durations = st.one_of(
    st.builds(Duration, amounts, st.just("s")),
    st.builds(Duration, st.integers(1, 500).map(Fraction), st.just("frames")),
    st.builds(Duration, amounts, st.just("beats")),
)
paces = st.one_of(
    st.none(),
    st.sampled_from(PACES).map(Pace),
    st.builds(lambda speed: Pace(speed_mm_s=speed), amounts),
)
points = (
    st.lists(st.tuples(thousandths, thousandths), min_size=2, max_size=6, unique=True)
    .map(tuple)
    .filter(lambda path: all(math.dist(a, b) > 0.002 for a, b in pairwise(path)))
)
parts = st.sampled_from([(0, 1), (0, Fraction(1, 3)), (Fraction(5, 12), 1)]).map(
    lambda pair: (Fraction(pair[0]), Fraction(pair[1]))
)


@st.composite
def moves(draw: st.DrawFn) -> Move | None:
    """A move with a length, a path, or both; or none."""
    kind = draw(st.sampled_from(["none", "length", "path", "both"]))
    if kind == "none":
        return None
    return Move(
        draw(amounts) if kind != "path" else None,
        draw(easings),
        draw(points) if kind != "length" else (),
        draw(st.sampled_from(["straight", "smooth"])) if kind != "length" else "straight",
        draw(st.sampled_from(["picture", "table"])) if kind != "length" else "picture",
        draw(parts),
    )


_shown = st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp"])
labels = st.one_of(
    st.sampled_from(["wait", "creep up", "2 s stop, look", 'say "oh"', "tempo 3", "for 1 s", "#3"]),
    st.sampled_from(
        ["ждать", "等待", "انتظار", "रुको", "a\\nb", "over", "=SUM(A1)", "'x", "half  gap"]
    ),
    st.sampled_from(["NaN", "go /mm", "x²", "² s", "٣ s", "FOR", "-", ".", "mm/s", "at", "go ./s"]),
    st.text(_shown, min_size=1, max_size=30).filter(lambda text: text.strip()),
)
notes = st.one_of(
    st.just(""), st.text(st.one_of(_shown, st.just("\n"), st.just("\t")), max_size=60)
)


@st.composite
def plans(draw: st.DrawFn, most: int = 6) -> Plan:
    """A plan of up to ``most`` actions with ids a1, a2, …"""
    count = draw(st.integers(0, most))
    actions = tuple(
        Action(
            f"a{n}",
            draw(labels),
            draw(durations),
            draw(st.integers(1, 24)),
            draw(paces),
            draw(moves()),
            draw(notes),
        )
        for n in range(1, count + 1)
    )
    rate = draw(st.sampled_from([Fraction(12), Fraction(24), Fraction(30000, 1001)]))
    scale = draw(st.sampled_from([Fraction(1), Fraction(6), Fraction(1, 2), Fraction(87)]))
    return Plan(rate, actions, draw(st.sampled_from([Fraction(96), Fraction(241, 2)])), scale)
