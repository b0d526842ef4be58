"""The step-back trigger's table: no line leads from hands to the shutter, and each state and cause
is told apart from its neighbour."""

from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standclear.shooting.stepback.machine import (
    EDGE_PATIENT_S,
    PATIENT_S,
    Moment,
    Options,
    Verdict,
    mean,
    press,
    step,
)
from standclear.shooting.stepback.says import SAYS, STATE_SAYS, says
from standclear.shooting.stepback.states import STATES, TABLE, Cause, Happening, State

GLANCES: tuple[Happening, ...] = ("hands", "touching", "stirring", "shadow", "light", "still")
HANDS = ("hands", "touching")


def test_every_name_in_the_table_is_declared() -> None:
    for (state, happening), (goal, cause) in TABLE.items():
        assert state in get_args(State)
        assert goal in get_args(State)
        assert happening in get_args(Happening)
        assert cause in get_args(Cause)
    assert set(STATES) == set(get_args(State))


def test_every_state_can_be_reached_and_left() -> None:
    for state in STATES:
        if state != "learning":
            assert any(goal == state != come for (come, _), (goal, _) in TABLE.items()), state
        assert any(come == state != goal for (come, _), (goal, _) in TABLE.items()), state


def test_only_a_study_a_countdown_or_a_press_leads_to_the_shutter() -> None:
    leads = {line for line, (goal, _) in TABLE.items() if goal == "take" != line[0]}
    assert leads == {
        ("settling", "take_it"),
        ("counting", "counted"),
        ("asking", "press"),
    }


def test_hands_lead_to_hands_in_from_wherever_a_picture_could_come_of_it() -> None:
    for state in ("watching", "settling", "counting", "rest", "asking"):
        for happening in HANDS:
            assert step(Moment(state=state), happening).state == "hands_in"  # type: ignore[arg-type]
    # Something at the edge that rests is why it is blocked; only a hand that moves is new there.
    assert step(Moment(state="blocked", cause="bumped"), "hands").state == "hands_in"
    assert step(Moment(state="blocked", cause="bumped"), "touching").state == "blocked"


def test_every_cause_has_a_sentence_of_its_own() -> None:
    sentences = [SAYS[cause] for cause in get_args(Cause) if cause]
    assert len(set(sentences)) == len(sentences)
    for goal, cause in TABLE.values():
        assert says(goal, cause), (goal, cause)
    assert len({says(state, "") for state in STATE_SAYS}) == len(STATE_SAYS)


def visit(*rest: Happening, came: tuple[str, ...] = ("right",)) -> Moment:
    """Somebody was here; then ``rest``."""
    moment = Moment(state="watching")
    for happening in ("hands", *rest):
        moment = step(moment, happening, came)  # type: ignore[arg-type]
    return moment


SETTLED = visit("still")


@pytest.mark.parametrize(
    ("verdict", "state", "cause"),
    [
        ("changed", "take", "changed"),
        ("unchanged", "asking", "nothing_changed"),
        ("left_behind", "asking", "left_behind"),
        ("large_change", "asking", "large_change"),
        ("bumped", "blocked", "bumped"),
        ("at_edge", "hands_in", "hand_resting"),
    ],
)
def test_each_verdict_after_a_visit(verdict: Verdict, state: State, cause: Cause) -> None:
    happening = mean(verdict, SETTLED, Options(), waited_s=0.4)
    assert happening is not None
    after = step(SETTLED, happening)
    assert (after.state, after.cause) == (state, cause)


def test_a_changed_pose_without_a_visit_is_asked_about() -> None:
    stirred = step(Moment(state="watching"), "stirring")
    assert (stirred.state, stirred.cause) == ("settling", "stirring")
    assert mean("changed", stirred, Options(), waited_s=0.4) == "nobody_was_in"
    assert mean("unchanged", stirred, Options(), waited_s=0.4) == "as_before"


def test_somebody_who_crossed_is_not_asked_about_but_a_hand_that_turned_back_is() -> None:
    crossed = Moment(state="watching")
    for edges in (("left",), ("top",), ("right",)):
        crossed = step(crossed, "hands", edges)
    crossed = step(crossed, "still")
    assert mean("unchanged", crossed, Options(), waited_s=0.4) == "passed_by"
    assert step(crossed, "passed_by").state == "watching"
    assert mean("unchanged", SETTLED, Options(), waited_s=0.4) == "nothing_changed"
    assert mean("changed", crossed, Options(), waited_s=0.4) == "take_it"


@pytest.mark.parametrize("verdict", ["shadow", "light"])
def test_light_is_waited_for_and_asked_about_only_when_it_stays(verdict: Verdict) -> None:
    assert mean(verdict, SETTLED, Options(), waited_s=PATIENT_S - 0.1) is None
    assert mean(verdict, SETTLED, Options(), waited_s=PATIENT_S) == "light_stays"
    asked = step(SETTLED, "light_stays")
    assert (asked.state, asked.cause) == ("asking", "light_stays")
    again = mean("changed", asked, Options(), waited_s=1)
    assert again == "settle_again"


def test_something_at_the_edge_is_a_resting_hand_until_it_stays_too_long() -> None:
    here = visit()
    assert mean("at_edge", here, Options(), waited_s=EDGE_PATIENT_S - 1) == "resting"
    assert step(here, "resting").cause == "hand_resting"
    stays = step(here, "edge_stays")
    assert (stays.state, stays.cause) == ("blocked", "at_the_edge")
    assert press(stays) == "accept", "a press there must not take a picture"
    assert step(stays, "accept").state == "learning"


def test_after_a_bump_it_asks_before_it_fires() -> None:
    bumped = step(SETTLED, "bumped")
    assert press(bumped) == "accept", "a press there must not take a picture"
    put_back = step(bumped, "hands", ("left", "right"))
    put_back = step(put_back, "still")
    assert mean("changed", put_back, Options(), waited_s=0.4) == "ask_it"
    taken = step(step(step(put_back, "ask_it"), "press"), "taken")
    assert not taken.careful


def test_only_ask_and_countdown() -> None:
    assert mean("changed", SETTLED, Options(only_ask=True), waited_s=0.4) == "ask_it"
    asked = step(SETTLED, "ask_it")
    assert (asked.state, asked.cause) == ("asking", "ready")
    assert step(asked, "press").state == "take"
    counting = step(SETTLED, "count_it")
    assert mean("changed", SETTLED, Options(countdown_s=2), waited_s=0.4) == "count_it"
    for happening, state in (
        ("hands", "hands_in"),
        ("touching", "hands_in"),
        ("stirring", "settling"),
        ("shadow", "settling"),
        ("light", "settling"),
        ("hold_back", "held_back"),
    ):
        assert step(counting, happening).state == state  # type: ignore[arg-type]
    assert step(counting, "counted").state == "take"


def test_held_back_with_a_hand_in_waits_for_a_new_visit() -> None:
    held = step(visit(), "hold_back")
    assert step(held, "hands").state == "held_back"
    assert step(held, "touching").state == "held_back"
    alone = step(held, "still")
    assert alone.state == "held_back"
    assert step(alone, "hands").state == "hands_in"


def test_held_back_without_a_hand_goes_on_with_the_next_visit_or_a_press() -> None:
    held = step(SETTLED, "hold_back")
    assert (held.state, held.cause) == ("held_back", "held")
    assert step(held, "hands").state == "hands_in"
    assert step(held, "press").state == "settling"
    for happening in get_args(Happening):
        assert step(held, happening).state != "take", happening


@pytest.mark.parametrize("state", [one for one in STATES if one != "held_back"])
def test_it_is_held_back_from_wherever_it_stands(state: State) -> None:
    held = step(Moment(state=state, visited=True), "hold_back")
    assert (held.state, held.cause) == ("held_back", "held")
    assert held.armed is (state != "hands_in")
    for happening in ("learnt", "restless", "blind", "still", "taken", "counted", "take_it"):
        assert step(held, happening).state == "held_back", happening  # type: ignore[arg-type]


def test_the_end_of_an_action_stays_the_reason_when_it_is_held_back_again() -> None:
    done = Moment(state="held_back", cause="action_done")
    assert step(done, "hold_back").cause == "action_done"


def test_held_back_before_the_set_was_learnt_a_press_goes_on_learning() -> None:
    held = step(Moment(state="learning"), "hold_back")
    assert press(held, learnt=False) == "accept"
    assert step(held, "accept").state == "learning"
    assert press(held, learnt=True) == "press"


def test_no_picture_is_said_and_gone_again() -> None:
    for state in STATES:
        after = step(Moment(state=state), "blind")
        if state not in ("take", "held_back"):
            assert (after.state, after.cause) == ("blind", "no_picture")
    assert step(Moment(state="blind"), "still").state == "settling"
    assert step(Moment(state="blind"), "press").state == "blind"


def test_failing_asks_and_resting_watches() -> None:
    assert step(Moment(state="take"), "failed").cause == "failed"
    rest = step(Moment(state="take", visited=True), "taken")
    assert (rest.state, rest.visited, rest.taken) == ("rest", False, 1)
    assert step(rest, "rested").state == "watching"
    done = step(rest, "limit")
    assert (done.state, done.cause) == ("held_back", "action_done")
    assert step(step(done, "still"), "hands").state == "held_back", "the next action waits"
    assert step(done, "press").counted == 0


@settings(max_examples=400, deadline=None)
@given(
    st.lists(
        st.one_of(
            st.sampled_from(GLANCES),
            st.sampled_from(get_args(Verdict)),
            st.sampled_from(("press", "hold_back", "counted", "taken", "failed", "blind")),
            st.sampled_from(("rested", "exposed", "restless", "learnt", "limit")),
        ),
        max_size=60,
    ),
    st.sampled_from([Options(), Options(only_ask=True), Options(countdown_s=1)]),
)
def test_no_sequence_leads_from_hands_to_a_picture(names: list[str], options: Options) -> None:
    """Whatever happens in whatever order: when it takes, nobody was at the edge at the last glance,
    and without a press somebody had been there since the picture before."""
    moment, last, seen, pressed = Moment(), "still", False, False
    for name in names:
        before = moment
        happening: Happening | None = name  # type: ignore[assignment]
        if name in get_args(Verdict):
            # A study is made of what is seen: a hand that touches is a verdict of its own.
            if last in HANDS and name not in ("at_edge", "bumped", "hand_was_learnt"):
                continue
            happening = mean(name, moment, options, waited_s=1.0)  # type: ignore[arg-type]
        elif name == "press":
            happening = press(moment)
        if happening is None:
            continue
        if happening in GLANCES:
            last = happening
            seen = seen or (last in HANDS and moment.state not in ("learning", "take"))
        moment = step(moment, happening, ("right",) if happening in HANDS else ())
        pressed = happening == "press"
        if moment.state == "take" != before.state:
            assert last not in HANDS
            assert pressed or seen
        if happening in ("taken", "exposed", "as_before", "passed_by", "learnt", "accept"):
            seen = False


@settings(max_examples=400, deadline=None)
@given(
    st.lists(st.sampled_from((*GLANCES, *get_args(Verdict), "counted", "blind")), max_size=40),
    st.lists(st.sampled_from(("still", "stirring", "shadow", *get_args(Verdict))), max_size=20),
)
def test_after_a_touch_nothing_is_taken_until_somebody_comes_in_or_presses(
    before: list[str], after: list[str]
) -> None:
    moment = Moment()
    for name in ("learnt", *before, "hold_back", *after, "counted", "learnt", "restless"):
        happening: Happening | None = name  # type: ignore[assignment]
        if name in get_args(Verdict):
            happening = mean(name, moment, Options(), waited_s=1.0)  # type: ignore[arg-type]
        moment = moment if happening is None else step(moment, happening, ("right",))
    assert moment.state == "held_back"
