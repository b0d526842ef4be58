"""Curves and spacing against scipy's splines and quadrature."""

import os
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.interpolate import CubicHermiteSpline

from standclear.timing.easing import EASE_BOTH, EASE_IN, LINEAR, CubicBezier, FreeFall
from standclear.timing.errors import TimingError
from standclear.timing.paths import Path
from standclear.timing.spacing import positions, ticks

LONG = os.environ.get("STANDCLEAR_LONG") == "1"


def reference(points: np.ndarray) -> CubicHermiteSpline:
    """A centripetal Catmull-Rom spline by its published tangents, as a scipy spline.

    Barry and Goldman's pyramid (SIGGRAPH 1988), differentiated at the knots; the end points are
    mirrored, and knots are spaced by the square root of the chords (centripetal).
    """
    padded = np.vstack([2 * points[0] - points[1], points, 2 * points[-1] - points[-2]])
    knots = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(padded, axis=0), axis=1) ** 0.5)])
    slopes = []
    for i in range(1, len(padded) - 1):
        (t0, t1, t2), (p0, p1, p2) = knots[i - 1 : i + 2], padded[i - 1 : i + 2]
        # The derivative at t1 of the parabola through three points (Lagrange's form).
        slopes.append(
            p0 * (t1 - t2) / ((t0 - t1) * (t0 - t2))
            + p1 * (2 * t1 - t0 - t2) / ((t1 - t0) * (t1 - t2))
            + p2 * (t1 - t0) / ((t2 - t0) * (t2 - t1))
        )
    return CubicHermiteSpline(knots[1:-1], points, np.array(slopes))


def test_spacing_along_random_splines_is_true_to_a_thousandth() -> None:
    rng = np.random.default_rng(3)
    worst = 0.0
    for _ in range(200 if LONG else 12):
        points = np.cumsum(rng.uniform(-80, 120, (rng.integers(3, 9), 2)), axis=0)
        worst = max(worst, worst_spacing_error(points))
    print(f"worst arc-length error against scipy: {100 * worst:.2e} %")
    assert worst < 1e-3


def worst_spacing_error(points: np.ndarray) -> float:
    """The worst relative error of a step, each step's length integrated by scipy."""
    spline, path = reference(points), Path(points, "smooth")
    speed = spline.derivative()
    placed = ticks(24, EASE_BOTH, path.length)
    spots = np.array(positions(path, placed))
    knots = np.linspace(spline.x[0], spline.x[-1], 40_001)
    samples = spline(knots)
    parameters = [spline.x[0]]
    for spot in spots:  # where scipy's curve passes our tick
        near = knots[np.argmin(np.linalg.norm(samples - spot, axis=1))]
        for _ in range(20):
            along = speed(near)
            near = np.clip(near + (spot - spline(near)) @ along / (along @ along), *knots[[0, -1]])
        assert np.linalg.norm(spline(near) - spot) < 1e-6
        parameters.append(float(near))
    errors = []
    for tick, low, high in zip(placed, parameters, parameters[1:], strict=False):
        inside = [k for k in spline.x if low < k < high]
        length = quad(lambda t: np.linalg.norm(speed(t)), low, high, points=inside or None)[0]
        errors.append(abs(length - tick.step) / tick.step)
    return max(errors)


def test_a_straight_path_is_as_long_as_its_chords() -> None:
    path = Path([(0, 0), (30, 40), (30, 140)])
    assert path.length == pytest.approx(150)
    assert path.at([0, 25, 50, 100, 150]) == pytest.approx(
        np.array([[0, 0], [15, 20], [30, 40], [30, 90], [30, 140]])
    )


def test_an_overshoot_goes_straight_on_past_the_end() -> None:
    path = Path([(0, 0), (100, 0)])
    assert path.at([-10, 110]) == pytest.approx(np.array([[-10, 0], [110, 0]]))


def test_a_smooth_path_passes_through_its_points() -> None:
    points = [(0, 0), (50, 10), (60, 80), (200, 90)]
    path = Path(points, "smooth")
    along = path.at(np.linspace(0, path.length, 20_001))
    for point in points:
        assert np.linalg.norm(along - point, axis=1).min() < 0.02


@settings(deadline=None, max_examples=50)
@given(st.lists(st.tuples(st.integers(-500, 500), st.integers(-500, 500)), min_size=2, max_size=8))
def test_any_points_make_a_path_or_a_sentence(points: list[tuple[int, int]]) -> None:
    try:
        path = Path(points, "smooth")
    except TimingError as error:
        assert "point" in error.sentence  # noqa: PT017
        return
    ends = path.at([0, path.length])
    assert ends[0] == pytest.approx(points[0], abs=1e-6)
    assert ends[1] == pytest.approx(points[-1], abs=1e-6)
    assert path.length >= np.linalg.norm(np.subtract(points[0], points[-1])) - 1e-6


@pytest.mark.parametrize(
    "points",
    [
        [],
        [(1, 1)],
        [(1, 1), (1, 1)],
        [(0, 0), (float("nan"), 1)],
        [(0, 0), (1e300, 0)],
        "no",
        [(0, 0, 0), (1, 1, 1)],
        [(0, 0), (1,)],
        [(n, 0) for n in range(501)],
    ],
)
def test_a_path_that_cannot_be_is_refused(points: object) -> None:
    with pytest.raises(TimingError):
        Path(points)  # type: ignore[arg-type]


def test_a_move_ends_where_it_should_on_ones_and_on_twos() -> None:
    for on in (1, 2, 3):
        for frames in (1, 5, 12, 24):
            placed = ticks(frames, EASE_IN, 120.0, on)
            assert placed[-1].distance == pytest.approx(120)
            assert sum(tick.hold for tick in placed) == frames
            assert sum(tick.step for tick in placed) == pytest.approx(120)


def test_slow_is_close_spacing_and_fast_is_wide() -> None:
    steps = [tick.step for tick in ticks(12, EASE_IN, 120.0)]
    assert steps == sorted(steps)
    even = [tick.step for tick in ticks(12, LINEAR, 120.0)]
    assert even == pytest.approx([10.0] * 12)


def test_a_fall_in_frames_keeps_the_odd_number_rule() -> None:
    steps = [tick.step for tick in ticks(6, FreeFall(), 36.0)]
    assert steps == pytest.approx([1, 3, 5, 7, 9, 11])


@given(st.integers(2, 60), st.data())
def test_a_split_move_keeps_every_position(frames: int, data: st.DataObject) -> None:
    cut = data.draw(st.integers(1, frames - 1))
    easing = CubicBezier(0.3, -0.2, 0.6, 1.2)
    whole = ticks(frames, easing, 100.0)
    middle = float(Fraction(cut, frames))
    halves = [
        *ticks(cut, easing, 100.0, part=(0, middle)),
        *ticks(frames - cut, easing, 100.0, part=(middle, 1)),
    ]
    assert [t.distance for t in halves] == pytest.approx([t.distance for t in whole], abs=1e-9)


@pytest.mark.parametrize("frames", [0, -3, 10**9])
def test_an_impossible_number_of_frames_is_refused(frames: int) -> None:
    with pytest.raises(TimingError):
        ticks(frames, LINEAR, 100.0)
