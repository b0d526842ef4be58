"""A typed plan is read as it is meant, written back as it was, and refused at its very column."""

import os
import time
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from standclear.timing.durations import Duration
from standclear.timing.easing import EASE_IN, CubicBezier, FreeFall
from standclear.timing.errors import PlanError
from standclear.timing.plan import Action, Move, Pace, Plan
from standclear.timing.plan_csv import parse_csv, plan_csv
from standclear.timing.plan_text import parse_plan
from standclear.timing.plan_text_writer import plan_text
from tests.unit.plan_strategies import plans

TWELVE = Fraction(12)
LONG = os.environ.get("STANDCLEAR_LONG") == "1"
ROUNDS = settings(
    deadline=None,
    max_examples=2000 if LONG else 25,
    suppress_health_check=[HealthCheck.too_slow],
)
CORK = """# The cork wakes.
tempo 96
scale 1:6
wait 1 s
creep 120 mm over 10 s, ease in, on twos   # shoulders first
look up 4 beats, slow
dash 300 mm at 150 mm/s, smooth on picture 100 400 320 380 700 420
"2 s stop, then look" 12 frames
drop 100mm 0.35s, fall
nudge 5 cm 1s, bezier(0.1, 0, 0.3, 1)
"""


def test_a_plan_is_read_as_it_is_meant() -> None:
    plan = parse_plan(CORK, TWELVE)
    wait, creep, look, dash, stop, drop, nudge = plan.actions
    assert (plan.tempo, plan.scale) == (96, 6)
    assert (wait.label, wait.duration) == ("wait", Duration(Fraction(1), "s"))
    assert creep.move is not None
    assert (creep.move.length_mm, creep.move.easing, creep.on) == (120, EASE_IN, 2)
    assert creep.notes == "shoulders first"
    assert (look.duration, look.pace) == (Duration(Fraction(4), "beats"), Pace("slow"))
    assert (dash.duration, dash.pace) == (Duration(Fraction(2)), Pace(speed_mm_s=Fraction(150)))
    assert dash.move is not None
    assert dash.move.points == ((100, 400), (320, 380), (700, 420))
    assert stop.label == "2 s stop, then look"
    assert drop.move is not None
    assert drop.move.easing == FreeFall()
    assert nudge.move is not None
    assert (nudge.move.length_mm, nudge.move.easing) == (50, CubicBezier(0.1, 0, 0.3, 1))
    assert [span.frames for span in plan.spans()] == [12, 120, 30, 24, 12, 4, 12]
    assert parse_plan(plan_text(plan), TWELVE) == plan


@pytest.mark.parametrize(
    ("line", "column", "says"),
    [
        ("wait", 5, "How long"),
        ("wait x s", 6, "not a number"),
        ("wait 1", 6, "needs a unit"),
        ("wait 1 q", 8, "no unit of time"),
        ("wait -1 s", 6, "more than nothing"),
        ("wait 0 s", 6, "more than nothing"),
        ("wait nan s", 6, "not a number"),
        ("wait 1e9 s", 6, "not a number"),
        ("wait 1,5 s", 6, "not a number"),
        ("wait 1000000000 s", 1, "24 hours"),
        ("wait 0.01 s", 1, "shorter than one frame"),
        ("wait 3 beats", 1, "tempo"),
        ("wait 1.5 frames", 6, "whole"),
        ("creep 12 mm over 1 s, easy", 23, "no option"),
        ("creep 12 mm over 1 s, bezier 2 0 1 1", 23, "times"),
        ("wait 1 s, ease in", 11, "Only a move"),
        ("wait 1 s, on twos, on ones", 20, "keep one"),
        ("wait 1 s, on 99s", 11, "on 24s"),
        ("wait 1 s,", 10, "missing after the comma"),
        ('"abc 1 s', 1, "closing quote"),
        ('"abc" then 1 s', 7, "not expected"),
        ("1 s", 1, "needs a name"),
        ("a 2 b 1 s", 3, "quotes"),
        ("creep 0 mm over 1 s", 7, "more than nothing"),
        ("dash at 3 mm/s", 15, "needs a length"),
        ("dash 5 mm at 0 mm/s", 20, "more than 0"),
        ("dash 5 mm at 1 mm/s, slow", 22, "twice"),
        ("go 1 s, smooth on table 0 0 1", 9, "x and a y"),
        ("tempo 0", 7, "tempo"),
        ("scale 1:0", 7, "scale"),
    ],
)
def test_what_cannot_be_read_is_pointed_at(line: str, column: int, says: str) -> None:
    with pytest.raises(PlanError, match=says) as refused:
        parse_plan(f"wait 1 s\n\n{line}\nwait 1 s\n", TWELVE)
    assert (refused.value.line, refused.value.column) == (3, column)
    assert refused.value.sentence.endswith(".")


def test_a_rate_that_leaves_no_frame_names_the_line_of_the_text() -> None:
    with pytest.raises(PlanError) as refused:
        parse_plan("# note\nwait 1 s\n\nblink 0.05 s\n", TWELVE)
    assert refused.value.line == 4


def test_a_fall_without_a_duration_takes_the_time_that_gravity_gives_it() -> None:
    """s = g t²/2: sqrt(2 · 0.1 · 6 / 9.80665) = 0.3498 s on a 1:6 set, 0.143 s at life size."""
    model, life = (
        parse_plan("scale 1:6\ndrop 100 mm, fall", TWELVE),
        parse_plan("d 10 cm, fall", TWELVE),
    )
    assert model.actions[0].duration == Duration(Fraction("0.350"), "s")
    assert life.actions[0].duration == Duration(Fraction("0.143"), "s")
    bounced = parse_plan("drop 100 mm, bounce 0.5 1", TWELVE).actions[0].duration
    assert float(bounced.value) == pytest.approx(2 * 0.1428, abs=1e-3)
    with pytest.raises(PlanError, match="no unit of time"):
        parse_plan("creep 100 mm, ease in", TWELVE)


@pytest.mark.parametrize("label", ["NAN", "go /mm", "x²", "² s", "٣ s", "FOR", "-", ".", "at"])
def test_a_name_that_could_be_read_as_an_amount_survives(label: str) -> None:
    """Found by random names: NAN was taken for a number, /mm for a length."""
    for move in (None, Move(Fraction(5))):
        plan = Plan(TWELVE, (Action("a1", label, Duration(Fraction(1)), move=move),))
        assert parse_plan(plan_text(plan), TWELVE) == plan


@ROUNDS
@given(plans())
def test_a_plan_survives_being_written_as_text(plan: Plan) -> None:
    assert parse_plan(plan_text(plan), plan.rate) == plan


@ROUNDS
@given(plans())
def test_a_plan_survives_being_written_as_csv(plan: Plan) -> None:
    assert parse_csv(plan_csv(plan), plan.rate) == plan


@settings(deadline=None)
@given(st.text(max_size=200))
def test_any_text_is_a_plan_or_a_sentence_with_its_place(text: str) -> None:
    for read in (parse_plan, parse_csv):
        try:
            plan = read(text, TWELVE)
        except PlanError as error:
            assert error.sentence  # noqa: PT017
            assert 0 <= error.line <= text.count("\n") + text.count("\r") + 1  # noqa: PT017
        else:
            assert parse_plan(plan_text(plan), TWELVE) == plan


WORDS = [
    "wait",
    "1",
    "s",
    "12",
    "frames",
    ",",
    "ease in",
    "on twos",
    "mm",
    "over",
    "at",
    "mm/s",
    "#",
]


@settings(deadline=None)
@given(
    st.lists(st.sampled_from([*WORDS, '"', "\n", "-", "0", "tempo", "bezier", "("]), max_size=20)
)
def test_any_jumble_of_the_words_is_a_plan_or_a_sentence(words: list[str]) -> None:
    text = " ".join(words)
    try:
        plan = parse_plan(text, TWELVE)
    except PlanError as error:
        assert error.line <= text.count("\n") + 1  # noqa: PT017
        return
    assert parse_plan(plan_text(plan), TWELVE) == plan


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("", 1, "action"),
        ("action;length\nwait;1", 1, "duration"),
        ("action,duration\nwait,soon", 2, "not a number"),
        ('action,duration\n"wait,1', 2, "broken CSV"),
        ('action,duration\n"wait"x,1', 2, "broken CSV"),
        ("action,duration\nwait,1,2", 2, "more fields"),
        ("action,duration,action\nwait,1,x", 1, "same name"),
        ("action,duration,unit\nwait,1,parsec", 2, "unit"),
        ("action,duration\nwait,-1", 2, "more than nothing"),
        ("action,duration\nwait,1\nwait,1000000000", 3, "24 hours"),
        ("action,duration\n,1", 2, "name"),
        ("tempo,action,duration\n0,,\n,wait,1", 0, "tempo"),
    ],
)
def test_broken_csv_is_refused_with_its_line(text: str, line: int, says: str) -> None:
    with pytest.raises(PlanError, match=says) as refused:
        parse_csv(text, TWELVE)
    assert refused.value.line == line


def test_csv_names_the_field_by_its_place_in_the_file() -> None:
    with pytest.raises(PlanError) as refused:
        parse_csv("notes,duration,action\nx,soon,wait", TWELVE)
    assert (refused.value.line, refused.value.column) == (2, 2)


def test_a_spreadsheets_semicolons_are_read() -> None:
    plan = parse_csv("\ufeffaction;duration;unit\r\nwait;12;frames\r\n", TWELVE)
    assert plan.frame_count == 12


def test_a_name_that_looks_like_a_formula_stays_text_in_a_spreadsheet() -> None:
    plan = parse_plan('"=1+1" 1 s', TWELVE)
    assert "'=1+1" in plan_csv(plan)
    assert parse_csv(plan_csv(plan), TWELVE) == plan


@pytest.mark.parametrize("read", [parse_plan, parse_csv])
def test_ten_megabytes_are_refused_at_once(read: object) -> None:
    text = "wait 1 s\n" * (10 * 1024 * 1024 // 9)
    start = time.process_time()
    with pytest.raises(PlanError, match="500,000"):
        read(text, TWELVE)  # type: ignore[operator]
    assert time.process_time() - start < 0.5


@pytest.mark.parametrize(
    "text",
    [
        "a" * 499999,
        "wait 1 s\n" * 50000,
        '"' * 499999,
        "a 1 s," * 80000,
        "1/3 " * 120000,
        "x " + "9" * 400000 + " s",
        "(" * 499999,
        "a 1 s, ticks " + "1 " * 200000,
        "\\" * 400000,
    ],
)
def test_the_longest_hostile_text_is_refused_within_two_seconds(text: str) -> None:
    start = time.process_time()
    for read in (parse_plan, parse_csv):
        with pytest.raises(PlanError) as refused:
            read(text, TWELVE)
        assert len(refused.value.sentence) < 300
    assert time.process_time() - start < 2


def test_actions_typed_again_keep_their_ids() -> None:
    before = parse_plan("wait 1 s\ncreep 12 mm over 1 s\nstop 1 s", TWELVE)
    after = parse_plan("wait 2 s\nlook 1 s\ncreep 12 mm over 1 s\nstop 1 s", TWELVE, before)
    assert [action.id for action in after.actions] == ["a1", "a4", "a2", "a3"]
    renamed = parse_plan("wait 1 s\ncrawl 12 mm over 1 s\nstop 1 s", TWELVE, before)
    assert [action.id for action in renamed.actions] == ["a1", "a2", "a3"]
