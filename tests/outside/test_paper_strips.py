"""Strips measured on paper: rendered at 600 dpi by poppler, then found and measured as pixels.

Nothing of the layout is taken from the code: edges, ticks and marks are looked for in the picture.
"""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from standclear.paper import strips
from standclear.paper.page import UnknownPaper
from standclear.paper.strip_data import strip_data
from standclear.timing.errors import PlanError
from standclear.timing.plan_text import parse_plan
from standclear.timing.progress import Shown
from tests.outside.poppler import needs_poppler, pages, runs, sizes_pt, text

DPI = 600
MM = DPI / 25.4
PLAN = """creep 120 mm over 1 s, ease both
fall 90 mm over 10 frames, fall
dash 640 mm over 2 s, ease out, on twos
"""
# ISO 216 A4 is 210 x 297 mm; Letter is 8.5 x 11 in (ANSI/ASME Y14.1).
SIZES = {"A4": (841.89, 595.276), "Letter": (792.0, 612.0)}


def data(plan: str = PLAN) -> object:
    return strip_data("The cork wakes", parse_plan(plan, Fraction(12)))


def planned() -> list[list[float]]:
    """Where each strip's ticks should be, in mm from its start, by the easings' own definitions."""
    creep = [120 * ease_both(n / 12) for n in range(1, 13)]
    fall = [90 * (n / 10) ** 2 for n in range(1, 11)]
    dash = [640 * ease_out(n / 12) for n in range(1, 13)]
    return [creep, fall, dash]


def bezier(time: float, x1: float, x2: float) -> float:
    """A CSS Bézier with y1 = 0, y2 = 1, solved by the roots of its cubic."""
    roots = np.roots([1 - 3 * x2 + 3 * x1, 3 * x2 - 6 * x1, 3 * x1, -time])
    s = next(r.real for r in roots if abs(r.imag) < 1e-9 and -1e-9 <= r.real <= 1 + 1e-9)
    return float(3 * (1 - s) * s**2 + s**3)


def ease_both(time: float) -> float:
    return bezier(time, 0.42, 0.58)


def ease_out(time: float) -> float:
    return bezier(time, 0.0, 0.58)


def longest(line: np.ndarray) -> tuple[float, float]:
    return max(runs(line), key=lambda run: run[1] - run[0], default=(0.0, 0.0))


def check_line_mm(page: np.ndarray) -> float:
    """The length of the lowest long line on the page."""
    for row in range(page.shape[0] - 1, int(page.shape[0] - 40 * MM), -1):
        start, end = longest(page[row])
        if end - start > 60 * MM:
            return float((end - start) / MM)
    return 0.0


def edges(page: np.ndarray) -> list[int]:
    """Rows of the lines along which strips are cut, from the top: long, and under ticks."""
    found: list[int] = []
    for row in range(int(30 * MM), page.shape[0] - int(22 * MM)):
        start, end = longest(page[row])
        if end - start > 20 * MM and (not found or row - found[-1] > 10 * MM):
            found.append(row)
    return found


def ticks_mm(page: np.ndarray, edge: int) -> list[tuple[float, float]]:
    """Centre and width in mm of every tick 3 mm above an edge."""
    row = runs(page[edge - int(3 * MM)])
    return [((a + b) / 2 / MM, (b - a) / MM) for a, b in row]


def crosses_mm(page: np.ndarray, edge: int) -> list[float]:
    """Places of the registration marks below an edge: upright lines 4 to 7 mm under it."""
    grey = np.where(page < 200, 0, 255).astype(np.uint8)
    row = grey[edge + int(6.4 * MM)]
    return [(a + b) / 2 / MM for a, b in runs(row) if (b - a) < 0.5 * MM]


@needs_poppler
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_tick_is_within_a_tenth_of_a_millimetre(paper: str, tmp_path: Path) -> None:
    pdf = strips.render(data(), paper)
    assert sizes_pt(pdf, tmp_path) == {SIZES[paper]}
    sheet = pages(pdf, tmp_path, DPI)
    for page in sheet:
        assert check_line_mm(page) == pytest.approx(100.0, abs=0.1)
    bands = [(page, edge) for page in sheet for edge in edges(page)]
    creep, fall, *dash = bands
    worst = 0.0
    for (page, edge), expected in zip((creep, fall), planned(), strict=False):
        start, *found = ticks_mm(page, edge)
        assert start[1] == pytest.approx(0.5, abs=0.1)
        assert [at - start[0] for at, _ in found] == pytest.approx(expected, abs=0.1)
        errors = [at - start[0] - way for (at, _), way in zip(found, expected, strict=True)]
        worst = max(worst, *map(abs, errors))
    joined = join(dash)
    assert joined == pytest.approx(planned()[2], abs=0.1)
    worst = max(worst, *(abs(a - b) for a, b in zip(joined, planned()[2], strict=True)))
    print(f"{paper}: worst tick {worst:.3f} mm, check line {check_line_mm(sheet[0]):.3f} mm")


def join(bands: list[tuple[np.ndarray, int]]) -> list[float]:
    """The ticks of a strip in pieces, laid so that the registration marks coincide."""
    assert len(bands) == 3
    places: list[float] = []
    offset = 0.0
    for number, (page, edge) in enumerate(bands):
        found, marks = ticks_mm(page, edge), crosses_mm(page, edge)
        zero = found[0][0] if number == 0 else marks[0]
        ticks = found[1:] if number == 0 else found
        places += [at - zero + offset for at, _ in ticks]
        offset += marks[-1] - zero
    return places


def middle(stretches: list[tuple[float, float]]) -> float:
    """The middle of the lines on which the longest stretch lies."""
    lengths = np.array([end - start for start, end in stretches])
    return float(np.flatnonzero(lengths > 0.9 * lengths.max()).mean()) + 0.5


@needs_poppler
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_bent_path_is_true_along_both_sides_of_the_page(paper: str, tmp_path: Path) -> None:
    """An L of 100 mm across and 80 mm down, with a tick every 10 mm."""
    plan = "turn 18 frames, straight on table 0 0 100 0 100 80"
    (page,) = pages(strips.render(data(plan), paper), tmp_path, DPI)
    assert check_line_mm(page) == pytest.approx(100.0, abs=0.1)
    inner = page[int(40 * MM) : -int(40 * MM), int(20 * MM) : -int(20 * MM)]
    row = int(middle([longest(line) for line in inner]))
    column = int(middle([longest(line) for line in inner.T]))
    across = [(a + b) / 2 / MM for a, b in runs(inner[row - int(2 * MM)])]
    down = [(a + b) / 2 / MM for a, b in runs(inner[:, column + int(2 * MM)])]
    corner = [at for at in across if abs(at - column / MM) < 1]
    steps = [at - across[0] for at in across]
    assert steps[:10] == pytest.approx([10.0 * n for n in range(10)], abs=0.1)
    assert len(corner) == 1
    last = [at for at in down if at - row / MM > 5]
    assert [at - row / MM for at in last] == pytest.approx([10.0 * n for n in range(1, 9)], abs=0.1)


def marks_px(page: np.ndarray, dpi: int) -> tuple[int, int]:
    """Columns of the outermost registration marks: upright lines 6 mm long."""
    grey = np.where(page < 200, 0, 255).astype(np.uint8)
    shortest = 5 * dpi / 25.4
    tall = [x for x in range(grey.shape[1]) if np.ptp(longest(grey[:, x])) > shortest]
    return min(tall), max(tall)


@needs_poppler
def test_a_large_bent_path_goes_over_several_sheets_that_join(tmp_path: Path) -> None:
    """Where the path leaves a sheet, at its right marks, it enters the next, at its left marks."""
    plan = "wander 2 s, smooth on table 0 0 150 -50 260 50 400 20"
    pdf = strips.render(data(plan), "A4")
    assert "sheet 1 of 2" in text(pdf, tmp_path)
    dpi = 300
    first, second = pages(pdf, tmp_path, dpi)
    assert marks_px(first, dpi) == marks_px(second, dpi)
    left, right = marks_px(first, dpi)
    inner = slice(int(35 * dpi / 25.4), -int(35 * dpi / 25.4))
    leaves = [(a + b) / 2 for a, b in runs(first[inner, right])]
    enters = [(a + b) / 2 for a, b in runs(second[inner, left])]
    assert leaves == pytest.approx(enters, abs=0.1 * dpi / 25.4)
    assert leaves


@needs_poppler
def test_what_was_shot_is_shaded_and_the_strip_names_its_move(tmp_path: Path) -> None:
    plan = parse_plan(PLAN, Fraction(12))
    done = strip_data("The cork wakes", plan, [Shown(f"e{n}", 1) for n in range(6)])
    assert [mark.done for mark in done.strips[0].marks] == [True] * 6 + [False] * 6
    printed = text(strips.render(done), tmp_path)
    assert "creep" in printed
    assert "frames 1–12" in printed
    assert "piece 2 of 3" in printed


def test_nothing_to_print_and_unknown_paper_are_refused_with_a_sentence() -> None:
    with pytest.raises(PlanError, match="No move"):
        data("wait 1 s")
    with pytest.raises(PlanError, match="20 m"):
        data("dash 90000 mm over 1 s")
    with pytest.raises(UnknownPaper):
        strips.render(data(), "A7")
