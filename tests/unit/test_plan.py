"""The plan: its sum, its edits, and where the shot stands in it."""

import os
import time
from dataclasses import replace
from fractions import Fraction
from math import floor
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from standclear.timing import plan_edit
from standclear.timing.durations import Duration
from standclear.timing.errors import PlanError
from standclear.timing.plan import MOST_ACTIONS, Action, Move, Pace, Plan, Span, Tie, new_id
from standclear.timing.plan_text import parse_plan
from standclear.timing.progress import Shown, frame_owners, settle, where, where_shown
from standclear.timing.targets import planned_ticks
from tests.unit.plan_strategies import plans

TWELVE = Fraction(12)
LONG = os.environ.get("STANDCLEAR_LONG") == "1"
ROUNDS = settings(
    deadline=None,
    max_examples=2000 if LONG else 25,
    suppress_health_check=[HealthCheck.too_slow],
)


def typed(text: str) -> Plan:
    return parse_plan(text, TWELVE)


def shot(count: int, hold: int = 1, start: int = 0) -> list[Shown]:
    return [Shown(f"e{n}", hold) for n in range(start, start + count)]


def test_where_says_action_frame_and_what_follows() -> None:
    plan = typed("wait 1 s\ncreep 120 mm over 10 s, on twos\nstop 0.5 s")
    begin, end, turn = where(plan, 0), where(plan, 11), where(plan, 12)
    assert (begin.label, begin.frame, begin.frames, begin.following) == ("wait", 1, 12, "creep")
    assert end.ends_action
    assert not begin.ends_action
    assert (turn.label, turn.just_ended, turn.hold, turn.exposures) == ("creep", "wait", 2, 60)
    assert turn.says == "creep, frame 1 of 120"
    assert where(plan, 138).state == "done"
    assert where(plan, 138).just_ended == "stop"
    assert where(Plan(TWELVE), 7).state == "empty"
    assert begin.exposures_left == plan.exposure_count == 12 + 60 + 6


def test_the_last_picture_on_twos_is_held_for_what_is_left() -> None:
    plan = typed("hop 5 frames, on twos\nwait 1 s")
    assert [where(plan, n).hold for n in (0, 2, 4)] == [2, 2, 1]
    assert [where(plan, n).exposure for n in (0, 2, 4)] == [1, 2, 3]


@ROUNDS
@given(plans(), st.integers(0, 200))
def test_counting_frames_and_walking_exposures_agree(plan: Plan, count: int) -> None:
    assert where_shown(plan, shot(count)) == where(plan, count)
    assert where_shown(settle(plan, shot(count)), shot(count)) == where(plan, count)


@ROUNDS
@given(plans())
def test_shooting_what_where_asks_for_ends_the_plan_exactly(plan: Plan) -> None:
    plan = replace(plan, actions=plan.actions[:2])
    frames = exposures = 0
    while (now := where(plan, frames)).state == "shooting" and exposures < 300:
        frames, exposures = frames + now.hold, exposures + 1
    if exposures < 300:
        assert frames == plan.frame_count
        assert exposures == plan.exposure_count


def test_what_was_shot_stays_with_its_action_when_one_is_inserted_before() -> None:
    plan = settle(typed("wait 1 s\ncreep 10 mm over 1 s"), shot(18))
    early = Action("a9", "yawn", Duration(Fraction(1)))
    changed = plan_edit.insert(plan, early, 0)
    now = where_shown(changed, shot(18))
    assert (now.label, now.frame, now.skipped) == ("creep", 7, ("yawn",))
    assert frame_owners(changed, shot(18)) == ["a1"] * 12 + ["a2"] * 6


def test_what_was_shot_stays_with_its_action_when_it_is_reordered_or_stretched() -> None:
    plan = settle(typed("wait 1 s\ncreep 10 mm over 1 s\nstop 1 s"), shot(18))
    moved = plan_edit.reorder(plan, "a3", 0)
    assert where_shown(moved, shot(18)).label == "creep"
    longer = plan_edit.stretch(plan, "a2", Duration(Fraction(2)))
    now = where_shown(longer, shot(18))
    assert (now.label, now.frame, now.frames) == ("creep", 7, 24)
    shorter = plan_edit.stretch(plan, "a2", Duration(Fraction(6), "frames"))
    assert where_shown(shorter, shot(18)).label == "stop"


def test_what_was_shot_for_a_deleted_action_shifts_nothing() -> None:
    plan = settle(typed("wait 1 s\ncreep 10 mm over 1 s\nstop 1 s"), shot(18))
    changed = plan_edit.delete(plan, "a1")
    now = where_shown(changed, shot(18))
    assert (now.label, now.frame) == ("creep", 7)
    assert frame_owners(changed, shot(18))[:12] == [None] * 12
    assert new_id(plan_edit.delete(changed, "a2")) == "a4"


def test_a_split_ties_what_lies_past_the_cut_to_the_second_part() -> None:
    plan = settle(typed("wait 1 s\nstop 1 s"), shot(9))
    changed = plan_edit.split(plan, "a1", 5)
    assert [a.id for a in changed.actions] == ["a1", "a3", "a2"]
    assert [str(a.duration) for a in changed.actions] == ["5 frames", "7 frames", "1 s"]
    assert frame_owners(changed, shot(9)) == ["a1"] * 5 + ["a3"] * 4
    now = where_shown(changed, shot(9))
    assert (now.action, now.frame, now.frames) == ("a3", 5, 7)


def test_ties_of_vanished_exposures_are_dropped_and_new_ones_made() -> None:
    plan = settle(typed("wait 1 s"), shot(6))
    again = settle(plan, [*shot(3), *shot(2, start=50)])
    assert [tie.exposure for tie in again.ties] == ["e0", "e1", "e2", "e50", "e51"]


def last_cut(plan: Plan, span: Span) -> int:
    """The last frame of an action after which a whole one and any fraction are left."""
    return min(span.frames, floor(span.action.duration.exact_frames(plan.rate, plan.tempo))) - 1


def test_a_fraction_over_whole_frames_is_never_cut_off_by_itself() -> None:
    plan = typed("look 0.55 s\nblink 0.13 s")  # 6.6 and 1.56 frames
    with pytest.raises(PlanError, match="after frame 1 to 5"):
        plan_edit.split(plan, "a1", 6)
    with pytest.raises(PlanError, match="too short"):
        plan_edit.split(plan, "a2", 1)
    assert plan_edit.split(plan, "a1", 5).frame_count == plan.frame_count


@ROUNDS
@given(plans(), st.data())
def test_every_split_keeps_the_sum_and_every_position(plan: Plan, data: st.DataObject) -> None:
    long = [span for span in plan.spans() if last_cut(plan, span) > 0]
    if not long:
        return
    span = data.draw(st.sampled_from(long))
    cut = data.draw(st.integers(1, last_cut(plan, span)))
    action = replace(span.action, on=1)
    plan = plan_edit.change(plan, action.id, on=1)
    place = plan.index(action.id)
    before = planned_ticks(plan.spans()[place])
    changed = plan_edit.split(plan, action.id, cut)
    assert changed.frame_count == plan.frame_count
    spans = changed.spans()
    assert [s.last for s in spans if s.action.id != action.id] == [s.last for s in plan.spans()]
    if before is not None:
        both = [*(planned_ticks(spans[place]) or ()), *(planned_ticks(spans[place + 1]) or ())]
        assert [t.distance for t in both] == pytest.approx([t.distance for t in before], abs=1e-6)


@ROUNDS
@given(plans(), st.data())
def test_reordering_back_restores_the_plan(plan: Plan, data: st.DataObject) -> None:
    if not plan.actions:
        return
    place = data.draw(st.integers(0, len(plan.actions) - 1))
    target = data.draw(st.integers(0, len(plan.actions) - 1))
    name = plan.actions[place].id
    assert plan_edit.reorder(plan_edit.reorder(plan, name, target), name, place) == plan


def test_an_edit_of_what_is_not_there_is_refused() -> None:
    plan = typed("wait 1 s")
    second = Duration(Fraction(1))
    for edit in (
        lambda: plan_edit.delete(plan, "a7"),
        lambda: plan_edit.stretch(plan, "a7", second),
        lambda: plan_edit.split(plan, "a1", 12),
        lambda: plan_edit.split(plan, "a1", 0),
        lambda: plan_edit.insert(plan, Action("a2", "x", second), 5),
        lambda: plan_edit.insert(plan, Action("a1", "x", second)),
        lambda: plan_edit.reorder(plan, "a1", -1),
        lambda: where(plan, -1),
    ):
        with pytest.raises(PlanError):
            edit()


SECOND = Duration(Fraction(1))


@pytest.mark.parametrize(
    "make",
    [
        lambda: Action("a1", "", SECOND),
        lambda: Action("a1", "x" * 201, SECOND),
        lambda: Action("a1", "two\nlines", SECOND),
        lambda: Action("a1", "x", SECOND, notes="y" * 2001),
        lambda: Action("a1", "x", SECOND, notes="bell\x07"),
        lambda: Action("a 1", "x", SECOND),
        lambda: Action("a1", "x", SECOND, on=0),
        lambda: Action("a1", "x", SECOND, on=25),
        lambda: Duration(Fraction(0)),
        lambda: Duration(Fraction(1, 10**13)),
        lambda: Duration(Fraction(1), "parsecs"),  # type: ignore[arg-type]
        Move,
        lambda: Move(Fraction(-1)),
        lambda: Move(points=((0, 0),)),
        lambda: Move(points=((0, 0), (float("nan"), 1))),
        lambda: Move(Fraction(1), part=(Fraction(1), Fraction(0))),
        Pace,
        lambda: Pace("slow", Fraction(1)),
        lambda: Pace("sluggish"),  # type: ignore[arg-type]
        lambda: Pace(speed_mm_s=Fraction(0)),
        lambda: Tie("", "a1", 1),
        lambda: Tie("e1", "a1", 0),
        lambda: Plan(TWELVE, ties=(Tie("e1", "a1", 1), Tie("e1", "a2", 1))),
    ],
)
def test_what_cannot_be_in_a_plan_is_refused_with_a_sentence(make: Any) -> None:
    with pytest.raises(PlanError) as refused:
        make()
    assert refused.value.sentence.endswith(".")


def test_a_plan_of_the_most_awkward_fractions_is_still_quick() -> None:
    """Denominators without common factors make the sum's fraction grow; it must stay bearable."""
    actions = tuple(
        Action(f"a{n}", "x", Duration(Fraction(3 * (10**11 + 7 * n) + 1, 10**11 + 7 * n)))
        for n in range(MOST_ACTIONS)
    )
    start = time.process_time()
    plan = Plan(TWELVE, actions)
    plan.spans()
    assert time.process_time() - start < 2
    with pytest.raises(PlanError, match="1,000"):
        Plan(TWELVE, (*actions, Action("b", "x", SECOND)))
