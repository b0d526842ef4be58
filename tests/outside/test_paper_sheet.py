"""The exposure sheet as poppler reads and draws it."""

import itertools
import re
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from standclear.paper import sheet
from standclear.paper.fonts import Fonts, system_fonts
from standclear.paper.shaping import _runs, outline
from standclear.paper.sheet_data import sheet_data
from standclear.timing.errors import PlanError
from standclear.timing.plan import Plan
from standclear.timing.plan_text import parse_plan
from standclear.timing.progress import Shown
from tests.outside.poppler import needs_poppler, pages, runs, sizes_pt, text

PLAN = """tempo 120
wait 1 s  # breathe twice
creep 120 mm over 4 s, ease both, on twos
stop 0.5 s
"""
# ISO 216 and ANSI/ASME Y14.1, in points of 1/72 in.
SIZES = {"A4": (595.276, 841.89), "Letter": (612.0, 792.0)}


def printed(plan: str = PLAN, rate: str = "12", shown: int = 0, paper: str = "A4") -> bytes:
    taken = [Shown(f"e{n}", 1) for n in range(shown)]
    made = sheet_data("The cork wakes", parse_plan(plan, Fraction(rate)), taken, {3: "creak"})
    return sheet.render(made, paper)


@needs_poppler
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_frame_has_its_row_with_number_and_timecode(paper: str, tmp_path: Path) -> None:
    pdf = printed(paper=paper)
    words = text(pdf, tmp_path)
    found = re.findall(r"^\s*(\d+)\s+(\d\d:\d\d:\d\d:\d\d)", words, re.MULTILINE)
    assert [int(number) for number, _ in found] == list(range(1, 67))
    assert found[12][1] == "00:00:01:00"
    assert "page 1 of 2" in words
    assert "12 frames/s" in words
    assert sizes_pt(pdf, tmp_path) == {SIZES[paper]}
    for said in ("The cork wakes", "creak", "breathe twice", "×", "beat 11", "48/48"):
        assert said in words


@needs_poppler
def test_drop_frame_is_printed_where_it_counts(tmp_path: Path) -> None:
    pdf = printed("wait 61 s", "30000/1001")
    assert "00:01:00;02" in text(pdf, tmp_path)
    assert "00:01:00;00" not in text(pdf, tmp_path)


@needs_poppler
@pytest.mark.parametrize("shown", [0, 7, 20])
def test_done_frames_are_marked_and_no_others(shown: int, tmp_path: Path) -> None:
    page = pages(printed(shown=shown), tmp_path, 150)[0]
    dark = (page < 160).mean(axis=1)
    lines = [n for n in range(1, len(dark)) if dark[n] > 0.7 and dark[n - 1] <= 0.7]
    left = int(runs(np.where(page[lines[0]] < 160, 0, 255))[0][0]) + 4
    cells = [page[a + 5 : b - 3, left : left + 22] for a, b in itertools.pairwise(lines)]
    assert len(cells) == 60
    assert [bool((cell < 100).sum() > 8) for cell in cells] == [n < shown for n in range(60)]


@needs_poppler
def test_an_empty_plan_prints_an_empty_sheet(tmp_path: Path) -> None:
    pdf = sheet.render(sheet_data("The cork wakes", Plan(Fraction(12))))
    assert "page 1 of 1" in text(pdf, tmp_path)


def test_a_shot_too_long_for_paper_is_refused() -> None:
    with pytest.raises(PlanError, match="too many for paper"):
        sheet_data("x", parse_plan("wait 20 beats\ntempo 1\nwait 2000 s", Fraction(12)))


def test_pages_hold_whole_seconds() -> None:
    assert [sheet.rows_a_page(n) for n in (8, 12, 24, 25, 30, 60)] == [56, 60, 48, 50, 60, 60]
    assert sheet.rows_a_page(240) == 48


def test_what_was_shot_comes_first_and_the_rest_of_the_plan_after() -> None:
    plan = parse_plan("wait 3 frames\nhop 5 frames, on twos", Fraction(12))
    rows = sheet_data("x", plan, [Shown("e1", 2), Shown("e2", 1), Shown("e3", 2)]).rows
    assert [row.exposure for row in rows] == [1, 1, 2, 3, 3, 4, 4, 5]
    assert [row.place for row in rows] == [1, 2, 3, 1, 2, 3, 4, 5]
    assert [row.done for row in rows] == [True] * 5 + [False] * 3


SCRIPTS = ["ждать", "περίμενε", "שלום עולם", "انتظار قليلا", "սպասել", "მოიცადე"]
PACKED = ["রোসো", "रुको क्षण", "ค่อย ๆ", "等待", "待って", "기다려"]


def lettered(word: str, fonts: Fonts) -> None:
    shaped = outline(word, fonts)
    if shaped.missing:
        pytest.skip(f"no font for {shaped.missing} here; pip install standclear[scripts]")
    assert shaped.width > 0
    assert sum(step[0] == "M" for step in shaped.steps) >= len(word.split(maxsplit=1)[0]) // 2


@pytest.mark.parametrize("word", [*SCRIPTS, *PACKED])
def test_a_name_in_any_script_that_has_a_font_is_drawn(word: str) -> None:
    lettered(word, system_fonts())


def test_arabic_letters_are_joined() -> None:
    """Shaping: three letters alone are wider than the same three joined."""
    fonts = system_fonts()
    if outline("ب", fonts).missing:
        pytest.skip("no Arabic font here; pip install standclear[scripts]")
    apart = sum(outline(letter, fonts).width for letter in "ببب")
    assert outline("ببب", fonts).width < apart * 0.9


# Unicode Standard Annex #9, rule L2: "car means CAR." is seen as "car means RAC."; Hebrew letters
# stand for the capitals. In a line that begins right to left the Latin stands at its left.
@pytest.mark.parametrize(
    ("typed", "seen"),
    [("car means אבג.", "car means גבא."), ("אבג def 12", "def 12 גבא"), ("אב 12 ג", "ג 12 בא")],
)
def test_right_to_left_runs_stand_where_the_standard_puts_them(typed: str, seen: str) -> None:
    fonts = system_fonts()
    if outline(typed, fonts).missing:
        pytest.skip("no Hebrew font here; pip install standclear[scripts]")
    laid = [run.text[::-1] if run.backwards else run.text for run in _runs(typed, fonts, [])]
    assert "".join(laid) == seen


@needs_poppler
def test_a_character_without_a_font_is_spelt_and_said(tmp_path: Path) -> None:
    made = sheet_data("x", parse_plan("wait \U0001323a 1 s", Fraction(12)))
    dejavu = [path for path in system_fonts()._files if path.name == "DejaVuSans.ttf"]
    if not dejavu:
        pytest.skip("DejaVu Sans is not installed")
    assert outline("\U0001323a", Fonts(dejavu)).missing == ("\U0001323a",)
    assert "stands for a character" in text(sheet.render(made, fonts=Fonts(dejavu)), tmp_path)
