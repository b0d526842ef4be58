"""A shot's report: worst first, a lasting flaw once, the plan against what was shot."""

from datetime import UTC, datetime, timedelta
from fractions import Fraction
from typing import Any

import pytest

from standclear.library.records import Judged
from standclear.shooting.report import report
from standclear.shooting.watches.verdict import Finding, verdict
from standclear.timing.plan import Plan
from standclear.timing.plan_text import parse_plan
from standclear.timing.table import calibrate

START = datetime(2026, 3, 1, 9, tzinfo=UTC)
CLEAR = Finding("clear", "Fine.")


def plan_of(text: str, **more: Any) -> Plan:
    return parse_plan(text, Fraction(12), Plan(Fraction(12), **more))


def bump(shift: float) -> Finding:
    return Finding("flagged", "Bumped.", {"shift_px": shift}, ("bump",), {"shift_px": 0.06})


def moved(x: float, y: float, dx: float) -> Finding:
    figures = {"object_x_px": x, "object_y_px": y, "move_x_px": dx, "move_y_px": 0, "move_px": dx}
    return Finding("clear", "The object moved.", figures)


def line(number: int, **found: Finding) -> Judged:
    findings = {"light": CLEAR, "rig": CLEAR, "focus": CLEAR, "pose": CLEAR, **found}
    at = START + timedelta(seconds=30 * number)
    return Judged(f"e{number}", number, 1, at, verdict(findings))


def test_a_bump_that_stays_is_one_entry_at_the_exposure_where_it_happened() -> None:
    lines = [line(1), line(2), *(line(n, rig=bump(1.8)) for n in (3, 4, 5))]
    found = report(lines, plan_of("wait 1 s"), 1920)["worst"]
    assert [(entry["number"], entry["watch"], entry["count"]) for entry in found] == [(3, "rig", 3)]
    assert found[0]["times_limit"] == pytest.approx(30)


def test_what_was_too_early_to_name_takes_the_name_it_gets() -> None:
    early = Finding("flagged", "Either.", {"shift_px": 0.1}, ("bump_or_creep",), {"shift_px": 0.06})
    creep = Finding("flagged", "Creeps.", {"shift_px": 0.2}, ("creep",), {"shift_px": 0.06})
    lines = [line(1), line(2), line(3, rig=early), line(4, rig=creep), line(5, rig=creep)]
    found = report(lines, plan_of("wait 1 s"), 1920)["worst"]
    assert [(one["number"], one["causes"], one["count"]) for one in found] == [(3, ["creep"], 3)]
    assert found[0]["says"] == "Creeps."


def test_the_worst_come_first_and_what_was_accepted_is_left_out() -> None:
    accepted = line(4, rig=bump(9.0))
    accepted = Judged("e4", 4, 1, START, {**dict(accepted.verdict or {}), "accepted": True})
    lines = [line(1), line(2, rig=bump(0.3)), line(3), accepted, line(5, rig=bump(3.0))]
    found = report(lines, plan_of("wait 1 s"), 1920)
    assert [entry["number"] for entry in found["worst"]] == [5, 2]
    assert [frame["accepted"] for frame in found["frames"]] == [False, False, False, True, False]


def test_steps_are_in_mm_of_table_where_the_plan_is_calibrated() -> None:
    # 2 px on the originals' scale are 1 px where the corners were tapped, and that is 1 mm.
    table = calibrate([(0, 0), (297, 0), (297, 210), (0, 210)], 297, 210, picture=(960, 540))
    lines = [line(1), line(2, pose=moved(300, 200, 24)), line(3, pose=CLEAR)]
    found = report(lines, plan_of("creep 120 mm over 1 s", table=table), 1920)
    spacing = [frame["spacing"] for frame in found["frames"]]
    assert found["spacing_unit"] == "mm"
    assert spacing[1]["moved_mm"] == pytest.approx(12, abs=1e-6)
    assert spacing[1]["moved_px"] == 24
    assert spacing[1]["planned_mm"] == pytest.approx(10)
    assert spacing[2]["moved_mm"] is None


def test_pixels_are_not_held_against_a_plan_in_mm() -> None:
    lines = [line(1), line(2, pose=moved(300, 200, 400))]
    found = report(lines, plan_of("creep 120 mm over 1 s"), 1920)
    assert found["spacing_unit"] == "px"
    assert found["frames"][1]["spacing"]["planned_mm"] is None
    assert found["plan"]["remarks"] == []


def test_the_pace_and_what_is_left_stand_beside_the_plan() -> None:
    found = report([line(n) for n in (1, 2, 3, 4)], plan_of("wait 1 s"), None)["plan"]
    assert found["pace"]["pictures_an_hour"] == pytest.approx(120)
    assert found["pace"]["exposures_left"] == 8
    assert found["pace"]["seconds_left"] == pytest.approx(240)


def test_an_exposure_without_verdict_and_an_empty_shot_have_a_report() -> None:
    unseen = Judged("e1", 1, 2, START, None)
    frame = report([unseen], plan_of("wait 1 s"), None)["frames"][0]
    assert frame["state"] is None
    assert frame["rig"]["shift_px"] is None
    empty = report([], plan_of("wait 1 s"), None)
    assert empty["frames"] == empty["worst"] == []


def test_a_page_of_frames_leaves_the_whole_shots_findings_whole() -> None:
    lines = [line(n, rig=bump(0.3) if n == 7 else CLEAR) for n in range(1, 11)]
    found = report(lines, plan_of("wait 1 s"), None, first=3, most=2)
    assert [frame["number"] for frame in found["frames"]] == [3, 4]
    assert [entry["number"] for entry in found["worst"]] == [7]
    assert found["exposure_count"] == 10
