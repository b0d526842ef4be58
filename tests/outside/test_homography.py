"""True scale: a table drawn through a pinhole camera, tapped with trembling fingers.

The picture is made by OpenCV's own projection (cv2.projectPoints), not by the code under test.
"""

import itertools
import os

import cv2
import numpy as np
import pytest

from standclear.timing.errors import TableError
from standclear.timing.table import KNOWN_RECTANGLES, calibrate, known_rectangle

LONG = os.environ.get("STANDCLEAR_LONG") == "1"
WIDTH, HEIGHT, FOCAL = 1920, 1080, 1800.0
A4 = np.array([[0, 0], [297, 0], [297, 210], [0, 210]], dtype=float)


def camera(tilt_deg: float, distance_mm: float, turn_deg: float = 0.0):
    """Projects table mm to pixels for a camera looking down at the middle of the sheet."""
    tilt = np.radians(tilt_deg)
    away = np.array([0, np.cos(tilt), -np.sin(tilt)]) * distance_mm
    forward = -away / np.linalg.norm(away)
    right = np.cross(forward, [0, 0, -1.0])
    right /= np.linalg.norm(right)
    rotation = np.vstack([right, np.cross(forward, right), forward])
    turn = cv2.Rodrigues(np.array([0, 0, np.radians(turn_deg)]))[0]
    vector = cv2.Rodrigues(rotation @ turn)[0]
    inner = np.array([[FOCAL, 0, WIDTH / 2], [0, FOCAL, HEIGHT / 2], [0, 0, 1]])
    middle = A4.mean(axis=0)

    def project(mm: np.ndarray) -> np.ndarray:
        spots = np.column_stack([np.asarray(mm) - middle, np.zeros(len(mm))])
        return cv2.projectPoints(spots, vector, -rotation @ away, inner, None)[0].reshape(-1, 2)

    return project


def known_points(rng: np.random.Generator) -> np.ndarray:
    """Twenty points on the sheet and up to 30 mm round it, no two closer than 40 mm."""
    chosen: list[np.ndarray] = []
    while len(chosen) < 20:
        spot = rng.uniform([-30, -30], [327, 240])
        if all(np.linalg.norm(spot - other) > 40 for other in chosen):
            chosen.append(spot)
    return np.array(chosen)


@pytest.mark.parametrize(("tilt", "turn"), [(75, 0), (55, 20), (40, -35)])
def test_distances_are_within_one_percent_with_taps_a_pixel_off(tilt: float, turn: float) -> None:
    """A sheet over some 40 % of a 1920 px picture's width; every one of 190 distances counts."""
    rng = np.random.default_rng(7)
    project = camera(tilt, 600, turn)
    worst = 0.0
    for _ in range(200 if LONG else 20):
        points = known_points(rng)
        taps = project(A4) + rng.uniform(-1, 1, (4, 2))
        measured = calibrate(taps.tolist(), 297, 210).mm(project(points))
        for a, b in itertools.combinations(range(20), 2):
            truth = np.linalg.norm(points[a] - points[b])
            found = np.linalg.norm(measured[a] - measured[b])
            worst = max(worst, abs(found - truth) / truth)
    print(f"tilt {tilt}°: worst distance error {100 * worst:.2f} %")
    assert worst < 0.01


def test_without_tap_error_the_table_is_exact_both_ways() -> None:
    project = camera(35, 800, 70)
    table = calibrate(project(A4).tolist(), 297, 210)
    points = known_points(np.random.default_rng(1))
    assert table.mm(project(points)) == pytest.approx(points, abs=1e-6)
    assert table.pixels(points) == pytest.approx(project(points), abs=1e-6)


def test_it_agrees_with_opencvs_homography() -> None:
    taps = camera(50, 650, 10)(A4).astype(np.float32)
    theirs = cv2.getPerspectiveTransform(taps, A4.astype(np.float32))
    spots = np.array([[900.0, 500.0], [1000.0, 620.0]])
    expected = cv2.perspectiveTransform(spots[None], theirs)[0]
    assert calibrate(taps.tolist(), 297, 210).mm(spots) == pytest.approx(expected, abs=1e-3)


def test_the_stated_error_is_what_trembling_taps_really_make() -> None:
    """The spread of 2,000 tappings with 1 px sd against the stated standard deviation."""
    rng = np.random.default_rng(11)
    corners = camera(50, 700, 15)(A4)
    ends = camera(50, 700, 15)(np.array([[40, 30], [250, 180]]))
    stated = calibrate(corners.tolist(), 297, 210, tap_sd_px=1.0).distance(*ends.tolist())
    lengths = []
    for _ in range(2000):
        table = calibrate((corners + rng.normal(0, 1, (4, 2))).tolist(), 297, 210)
        start, end = table.mm(ends + rng.normal(0, 1, (2, 2)))
        lengths.append(np.linalg.norm(end - start))
    assert stated.sd_mm == pytest.approx(np.std(lengths), rel=0.1)
    assert stated.mm == pytest.approx(np.linalg.norm([210, 150]), rel=1e-6)


@pytest.mark.parametrize("order", list(itertools.permutations(range(4))))
def test_corners_in_order_are_taken_and_crossed_ones_refused(order: tuple[int, ...]) -> None:
    taps = camera(50, 700)(A4)[list(order)].tolist()
    steps = {(b - a) % 4 for a, b in zip(order, order[1:] + order[:1], strict=True)}
    first, second = (297, 210) if order[0] + order[1] in (1, 5) else (210, 297)
    if steps in ({1}, {3}):
        table = calibrate(taps, first, second)
        assert table.distance(taps[0], taps[2]).mm == pytest.approx(np.hypot(297, 210))
    else:
        with pytest.raises(TableError, match="cross"):
            calibrate(taps, first, second)


def test_either_way_round_the_table_is_seen_from_above_and_not_mirrored() -> None:
    taps = camera(60, 700)(A4)
    for order in ([0, 1, 2, 3], [0, 3, 2, 1]):
        size = (297, 210) if order[1] == 1 else (210, 297)
        a, b, c = calibrate(taps[order].tolist(), *size).mm(taps[[0, 1, 2]])
        (ux, uy), (vx, vy) = b - a, c - b
        assert ux * vy - uy * vx > 0


@pytest.mark.parametrize(
    ("corners", "says"),
    [
        ([[100, 100], [300, 100], [500, 100], [300, 400]], "line"),
        ([[100, 100], [500, 100], [250, 200], [100, 400]], "inside"),
        ([[100, 100], [101, 100], [101, 101], [100, 101]], "close"),
        ([[100, 100], [500, 100], [500, 400]], "four"),
        ([[100, 100], [500, 100], [500, 400], [float("nan"), 400]], "plain numbers"),
        ([[100, 100], [500, 100], [100, 100], [100, 400]], "line"),
        ("abcd", "pairs"),
    ],
)
def test_an_impossible_tapping_is_refused_with_a_sentence(corners: object, says: str) -> None:
    with pytest.raises(TableError, match=says) as refused:
        calibrate(corners, 297, 210)  # type: ignore[arg-type]
    assert refused.value.sentence.endswith(".")


@pytest.mark.parametrize("edge", [0, -5, float("nan"), 1e9])
def test_an_impossible_size_is_refused(edge: float) -> None:
    with pytest.raises(TableError):
        calibrate([[100, 100], [500, 100], [500, 400], [100, 400]], edge, 210)


def test_a_point_beyond_the_horizon_is_refused() -> None:
    table = calibrate(camera(25, 700)(A4).tolist(), 297, 210)
    with pytest.raises(TableError, match="horizon"):
        table.mm([[960, -5000]])


def test_known_rectangles_have_their_published_sizes() -> None:
    """ISO 216 (A4 210 x 297), ANSI/ASME Y14.1 (8.5 x 11 in), ISO/IEC 7810 (85.60 x 53.98)."""
    assert known_rectangle("A4", long_edge_first=False) == (210, 297)
    assert known_rectangle("Letter") == pytest.approx((11 * 25.4, 8.5 * 25.4))
    assert KNOWN_RECTANGLES["ID-1"] == (85.60, 53.98)
    with pytest.raises(TableError):
        known_rectangle("A5")
