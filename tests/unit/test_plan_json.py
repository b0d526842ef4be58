"""The plan's JSON: nothing lost between store, GET and PUT; what cannot be changes nothing."""

import os
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from pydantic import ValidationError

from standclear.timing.errors import PlanError
from standclear.timing.plan import Plan
from standclear.timing.plan_convert import from_stored, stored
from standclear.timing.plan_csv import plan_csv
from standclear.timing.plan_json import PlanIn
from standclear.timing.plan_resource import changed, described
from standclear.timing.plan_text import parse_plan
from standclear.timing.progress import Shown, settle
from tests.unit.plan_strategies import plans

TWELVE = Fraction(12)
LONG = os.environ.get("STANDCLEAR_LONG") == "1"
ROUNDS = settings(
    deadline=None,
    max_examples=2000 if LONG else 25,
    suppress_health_check=[HealthCheck.too_slow],
)


def exposures(count: int) -> list[Shown]:
    return [Shown(f"e{n}", 1) for n in range(count)]


@ROUNDS
@given(plans())
def test_a_plan_survives_the_store(plan: Plan) -> None:
    tied = settle(plan, exposures(5))
    assert from_stored(stored(tied), tied.rate) == tied


@ROUNDS
@given(plans())
def test_putting_back_what_was_got_changes_nothing(plan: Plan) -> None:
    answer = described(plan, exposures(7), 3).model_dump(mode="json")
    again = changed(plan, PlanIn.model_validate(answer | {"text": None}), exposures(7))
    assert again == settle(plan, exposures(7))
    typed = changed(plan, PlanIn(text=answer["text"]), exposures(7))
    assert [a.label for a in typed.actions] == [a.label for a in plan.actions]
    assert changed(plan, PlanIn(csv=plan_csv(plan)), []).frame_count == plan.frame_count


def test_get_tells_where_the_shot_stands() -> None:
    plan = parse_plan("wait 1 s\ncreep 120 mm over 1 s, ease in", TWELVE)
    answer = described(plan, exposures(14), 1)
    assert answer.where.label == "creep"
    assert answer.where.says == "creep, frame 3 of 12"
    assert [a.frames_shot for a in answer.actions] == [12, 2]
    assert answer.actions[1].positions_mm is not None
    assert answer.actions[1].positions_mm[-1] == 120
    assert answer.actions[0].positions_mm is None


def test_get_tells_how_long_gravity_makes_a_fall() -> None:
    plan = parse_plan("scale 1:6\ndrop 100 mm over 1 s, fall\nwait 1 s", TWELVE)
    drop, wait = described(plan, [], 1).actions
    assert drop.gravity_s == pytest.approx((2 * 0.6 / 9.80665) ** 0.5)
    assert wait.gravity_s is None


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("wait 1 s\nx 1 s, straight on table 0 0 0 0 5 5", "same"),
        ("wait 1 s\nx 10 mm over 20000 s", "exposures"),
    ],
)
def test_a_move_that_cannot_be_placed_is_refused_when_it_is_put(text: str, says: str) -> None:
    """Found when GET failed on a plan that PUT had taken."""
    with pytest.raises(PlanError, match=says) as refused:
        changed(Plan(TWELVE), PlanIn(text=text), [])
    assert refused.value.line == 2


def test_a_drawn_path_comes_with_its_targets() -> None:
    plan = parse_plan("go 1 s, straight on table 0 0 120 0\ncreep 12 mm over 1 s", TWELVE)
    drawn, typed = described(plan, [], 1).actions
    assert drawn.targets is not None
    assert drawn.targets[5].table_mm == pytest.approx((60, 0))
    assert drawn.targets[5].step_mm == pytest.approx(10)
    assert typed.targets is None


def test_edits_are_made_in_order_and_what_was_shot_stays_tied() -> None:
    plan = parse_plan("wait 1 s\ncreep 120 mm over 1 s", TWELVE)
    asked = PlanIn.model_validate(
        {
            "edits": [
                {"op": "split", "action": "a1", "frames": 4},
                {"op": "insert", "new": {"label": "blink", "duration": {"value": 0.5}}, "place": 1},
                {"op": "stretch", "action": "a2", "duration": {"value": "4/3", "unit": "s"}},
                {"op": "reorder", "action": "a2", "place": 0},
                {"op": "delete", "action": "a3"},
            ]
        }
    )
    after = changed(plan, asked, exposures(6))
    assert [(a.id, a.label) for a in after.actions] == [
        ("a2", "creep"),
        ("a1", "wait"),
        ("a4", "blink"),
    ]
    assert [tie.action for tie in after.ties] == ["a1"] * 4 + ["a3"] * 2


BAD_DURATIONS: list[Any] = [-1, 0, float("nan"), float("inf"), 10**9, "soon", "1e9", "1/0"]


@pytest.mark.parametrize("value", BAD_DURATIONS)
def test_a_bad_duration_is_refused_with_its_place(value: Any) -> None:
    actions = [
        {"label": "a", "duration": {"value": 1}},
        {"label": "b", "duration": {"value": value}},
    ]
    with pytest.raises(PlanError) as refused:
        changed(Plan(TWELVE), PlanIn.model_validate({"actions": actions}), [])
    assert refused.value.line == 2


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"actions": [], "text": ""},
        {"text": "x" * 10_000_000},
        {"actions": [{"label": "a"}]},
        {"edits": [{"op": "burn", "action": "a1"}]},
        {"actions": [{"label": "a", "duration": {"value": 1, "unit": "parsec"}}]},
    ],
)
def test_a_body_of_the_wrong_shape_is_refused(body: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        PlanIn.model_validate(body)


@pytest.mark.parametrize(
    "change",
    [
        {"pace": "sluggish"},
        {"on": 0},
        {"label": " "},
        {"move": {}},
        {"move": {"length_mm": -1}},
        {"move": {"length_mm": 5, "easing": "swing"}},
        {"move": {"points": [[0, 0], [float("nan"), 1]]}},
        {"move": {"length_mm": 5, "part": [1, 0]}},
        {"id": "no good"},
    ],
)
def test_an_action_that_cannot_be_is_refused(change: dict[str, Any]) -> None:
    action = {"label": "a", "duration": {"value": 1}} | change
    with pytest.raises(PlanError):
        changed(Plan(TWELVE), PlanIn.model_validate({"actions": [action]}), [])


def test_a_tempo_or_scale_that_cannot_be_is_refused() -> None:
    for body in ({"tempo": 0, "actions": []}, {"scale": "1:0", "actions": []}):
        with pytest.raises(PlanError):
            changed(Plan(TWELVE), PlanIn.model_validate(body), [])
