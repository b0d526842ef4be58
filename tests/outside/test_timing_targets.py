"""Targets drawn over the picture stand where the plan says on the table.

The camera is OpenCV's own projection (cv2.projectPoints); scipy measures the ways.
"""

from fractions import Fraction

import numpy as np
import pytest
from scipy.spatial.distance import cdist

from standclear.timing.errors import PlanError, TableError
from standclear.timing.plan import Plan
from standclear.timing.plan_convert import from_stored, stored
from standclear.timing.plan_json import PlanIn
from standclear.timing.plan_resource import changed, described
from standclear.timing.plan_text import parse_plan
from standclear.timing.table import calibrate
from standclear.timing.targets import targets
from tests.outside.test_homography import A4, camera

TWELVE = Fraction(12)
PROJECT = camera(50, 700, 20)


def drawn(mm: np.ndarray, ending: str) -> Plan:
    """A plan with one move drawn on the picture over the given table points."""
    numbers = " ".join(f"{v:.6f}" for v in PROJECT(mm).ravel())
    return parse_plan(f"creep 1 s, straight on picture {numbers}{ending}", TWELVE)


def test_a_straight_path_on_the_picture_is_spaced_truly_on_the_table() -> None:
    table = calibrate(PROJECT(A4).tolist(), 297, 210)
    ends = np.array([[20.0, 30.0], [260.0, 190.0]])
    found = targets(drawn(ends, "").spans()[0], table)
    mm = np.array([target.table_mm for target in found])
    expected = ends[0] + (ends[1] - ends[0]) * (np.arange(1, 13)[:, None] / 12)
    assert mm == pytest.approx(expected, abs=1e-3)
    assert np.array([t.picture_px for t in found]) == pytest.approx(PROJECT(expected), abs=1e-2)
    steps = cdist(mm[:-1], mm[1:]).diagonal()
    assert [t.step_mm for t in found][1:] == pytest.approx(list(steps), abs=1e-3)


def test_without_a_table_no_millimetres_are_told() -> None:
    found = targets(drawn(np.array([[0, 0], [100, 0]]), ", ease in").spans()[0])
    assert {t.step_mm for t in found} == {None}
    assert {t.table_mm for t in found} == {None}
    assert all(t.picture_px for t in found)


def test_a_typed_length_is_told_in_mm_without_a_place() -> None:
    found = targets(parse_plan("creep 120 mm over 1 s", TWELVE).spans()[0])
    assert [t.step_mm for t in found] == pytest.approx([10.0] * 12)
    assert {t.picture_px for t in found} == {None}


def test_a_hold_has_no_targets() -> None:
    with pytest.raises(PlanError, match="Nothing moves"):
        targets(parse_plan("wait 1 s", TWELVE).spans()[0])


def calibration() -> dict[str, object]:
    return {
        "corners": PROJECT(A4).tolist(),
        "picture_width": 1920,
        "picture_height": 1080,
        "rectangle": "A4",
    }


def test_a_calibration_is_kept_with_the_plan_and_tells_its_error() -> None:
    plan = drawn(np.array([[20.0, 30.0], [260.0, 30.0]]), "")
    assert described(plan, [], 1).actions[0].positions_mm is None
    after = changed(plan, PlanIn.model_validate({"calibration": calibration()}), [])
    again = from_stored(stored(after), TWELVE)
    assert again == after
    answer = described(again, [], 2)
    assert answer.calibration is not None
    assert 0.05 < answer.calibration.error_percent < 1
    assert answer.actions[0].positions_mm == pytest.approx(
        [20.0 * n for n in range(1, 13)], abs=0.01
    )
    retyped = changed(again, PlanIn(text=answer.text), [])
    assert retyped.table == again.table
    assert changed(again, PlanIn(forget_calibration=True), []).table is None


def test_a_calibration_that_cannot_be_changes_nothing() -> None:
    tapped = calibration()
    corners = tapped["corners"]
    assert isinstance(corners, list)
    crossed = tapped | {"corners": [corners[n] for n in (0, 2, 1, 3)]}
    unsized = {k: v for k, v in tapped.items() if k != "rectangle"}
    for bad in (crossed, unsized):
        with pytest.raises(TableError):
            changed(Plan(TWELVE), PlanIn.model_validate({"calibration": bad}), [])


def test_a_path_drawn_beyond_the_horizon_is_refused_with_its_action() -> None:
    plan = parse_plan("fly 1 s, straight on picture 960 500 960 -90000", TWELVE)
    with pytest.raises(PlanError, match=r"fly.*horizon") as refused:
        changed(plan, PlanIn.model_validate({"calibration": calibration()}), [])
    assert refused.value.line == 1
