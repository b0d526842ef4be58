"""The plan against what was shot: rushing, short actions, no slow part, two at once, the pace."""

import json
from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from fractions import Fraction

import pytest

from standclear.timing.actual import Measured, compare, pace
from standclear.timing.plan import Plan, Tie
from standclear.timing.plan_text import parse_plan

START = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)
CREEP = "wait 0.5 s\ncreep 120 mm over 1 s, ease both\nstop 1 s"


def plan_of(text: str = CREEP) -> Plan:
    return parse_plan(text, Fraction(12))


def shot(steps: list[float | None], moving: int | None = 1) -> list[Measured]:
    return [
        Measured(f"e{n}", 1, step, moving, START + timedelta(seconds=30 * n))
        for n, step in enumerate(steps)
    ]


def planned(text: str = CREEP) -> list[float]:
    """The steps as the plan wants them, read from a comparison with nothing measured."""
    plan = plan_of(text)
    rows = compare(plan, shot([None] * plan.frame_count)).frames
    return [row.planned or 0.0 for row in rows]


def kinds(steps: list[float | None], text: str = CREEP, moving: int = 1) -> list[str]:
    return [remark.kind for remark in compare(plan_of(text), shot(steps, moving)).remarks]


def test_a_shot_as_planned_has_nothing_to_remark() -> None:
    steps = planned()
    assert sum(steps) == pytest.approx(120)
    assert steps[:6] == [0] * 6
    assert kinds(list(steps)) == []


def test_planned_and_measured_stand_side_by_side() -> None:
    rows = compare(plan_of(), shot([1.0] * 10)).frames
    assert [row.frame for row in rows] == list(range(1, 11))
    assert [row.action for row in rows] == ["a1"] * 6 + ["a2"] * 4
    assert rows[6].planned == pytest.approx(planned()[6])
    assert rows[6].measured == 1.0


def test_a_step_wider_than_planned_rushes_and_is_named() -> None:
    steps = planned()
    steps[9] *= 1.5
    found = compare(plan_of(), shot(list(steps))).remarks
    assert [remark.kind for remark in found] == ["rushed"]
    assert found[0].frame == 10
    assert "creep" in found[0].says


def test_a_hold_in_which_something_moves_rushes() -> None:
    steps = planned()
    steps[2] = 4.0
    assert kinds(list(steps)) == ["rushed"]


def test_an_action_left_with_too_few_frames_is_short() -> None:
    """Twos shot where the plan says ones tie fewer frames to an action; the tie says which."""
    plan = plan_of("wait 1 s\nlook 1 s")
    tied = Plan(
        plan.rate,
        plan.actions,
        ties=tuple(Tie(f"e{n}", "a1" if n < 6 else "a2", 1) for n in range(9)),
    )
    found = compare(tied, shot([0.0] * 9)).remarks
    assert [remark.kind for remark in found] == ["short"]
    assert "6 frames where 12" in found[0].says


def test_a_move_at_one_speed_has_no_slow_part() -> None:
    text = "dash 120 mm over 1 s"
    assert kinds([10.0] * 12, text) == ["no_slow_part"]
    assert kinds(list(planned("dash 120 mm over 1 s, ease in")), text) != ["no_slow_part"]


def test_two_things_moving_at_once_are_remarked_once_an_action() -> None:
    found = kinds([0.0] * 6, moving=2)
    assert found == ["two_at_once"]


def test_bands_tell_slow_from_fast() -> None:
    rows = compare(plan_of("roll 1 s"), shot([0.0, 1.0, 8.0, 10.0, 60.0])).frames
    assert [row.band for row in rows] == ["still", "slow", "slow", "middle", "fast"]


def test_what_the_watch_cannot_tell_is_left_open() -> None:
    rows = compare(plan_of(), shot([None] * 8)).frames
    assert {row.band for row in rows} == {None}
    assert not any(row.rushed for row in rows)


def test_the_comparison_is_json() -> None:
    steps = planned()
    steps[9] *= 2
    json.dumps(asdict(compare(plan_of(), shot(list(steps), 2))))


def test_pace_leaves_breaks_out() -> None:
    times = [START + timedelta(seconds=30 * n) for n in range(20)]
    times += [times[-1] + timedelta(hours=1) + timedelta(seconds=30 * n) for n in range(20)]
    found = pace(times, exposures_left=60)
    assert found.pictures_an_hour == pytest.approx(120)
    assert found.seconds_left == pytest.approx(1800)
    assert found.pictures == 40


def test_pace_of_too_few_pictures_is_unknown() -> None:
    assert pace([], 12).pictures_an_hour is None
    assert pace([START], 12).seconds_left is None
    assert pace([START, START], 12).pictures_an_hour is None
