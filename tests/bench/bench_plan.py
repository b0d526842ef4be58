"""How fast and how true the plan is: ``python tests/bench/bench_plan.py [--long]``.

Prints one row a measurement. Exit status 1 when a goal is missed.
"""

import random
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from standclear.paper import sheet, strips
from standclear.paper.sheet_data import sheet_data
from standclear.paper.strip_data import strip_data
from standclear.timing.durations import Duration, frame_ends
from standclear.timing.easing import CubicBezier
from standclear.timing.paths import Path
from standclear.timing.plan import Plan
from standclear.timing.plan_csv import parse_csv, plan_csv
from standclear.timing.plan_resource import described
from standclear.timing.plan_text import parse_plan
from standclear.timing.plan_text_writer import plan_text
from standclear.timing.progress import Shown, where, where_shown
from standclear.timing.table import calibrate
from standclear.timing.timecode import frame_of, timecode

NTSC = Fraction(30000, 1001)
LONG = "--long" in sys.argv


@dataclass
class Result:
    """One measurement and its goal, in the same unit; smaller is better."""

    what: str
    value: float
    goal: float
    unit: str

    @property
    def kept(self) -> bool:
        return self.value <= self.goal

    def __str__(self) -> str:
        mark = "" if self.kept else "   MISSED"
        return f"{self.what:<58} {self.value:>10.3f} {self.goal:>10.3f} {self.unit}{mark}"


def milliseconds(work: Callable[[], object], times: int) -> float:
    """Processor time of one call, the best of five rounds."""
    best = float("inf")
    for _ in range(5):
        start = time.process_time()
        for _ in range(times):
            work()
        best = min(best, (time.process_time() - start) / times)
    return best * 1000


def hundred() -> Plan:
    """A plan of a hundred actions, as long as a day's work many times over."""
    line = "creep 120 mm over 1.3 s, ease both, on twos, slow  # notes\n"
    return parse_plan("tempo 96\n" + line * 100, Fraction(24))


def speeds() -> list[Result]:
    plan, shown = hundred(), [Shown(f"e{n}", 2) for n in range(600)]
    text, table = plan_text(plan), plan_csv(plan)
    taps = [[420.0, 250.0], [1480.0, 260.0], [1700.0, 900.0], [230.0, 880.0]]
    calibrated = calibrate(taps, 297, 210)
    curve = CubicBezier(0.42, 0, 0.58, 1)
    spline = np.cumsum(np.random.default_rng(1).uniform(-50, 90, (20, 2)), axis=0)
    return [
        Result(
            "read 100 typed actions",
            milliseconds(lambda: parse_plan(text, plan.rate), 3),
            100,
            "ms",
        ),
        Result(
            "read 100 actions of CSV",
            milliseconds(lambda: parse_csv(table, plan.rate), 3),
            100,
            "ms",
        ),
        Result("where, 100 actions", milliseconds(lambda: where(plan, 900), 10), 10, "ms"),
        Result(
            "where, 600 exposures", milliseconds(lambda: where_shown(plan, shown), 10), 10, "ms"
        ),
        Result(
            "GET /plan, 100 actions", milliseconds(lambda: described(plan, shown, 1), 2), 200, "ms"
        ),
        Result("one Bézier value", milliseconds(lambda: curve(0.37), 2000), 0.05, "ms"),
        Result(
            "a smooth path of 20 points", milliseconds(lambda: Path(spline, "smooth"), 10), 10, "ms"
        ),
        Result(
            "one distance with its error",
            milliseconds(lambda: calibrated.distance(*taps[:2]), 10),
            10,
            "ms",
        ),
    ]


def papers() -> list[Result]:
    plan = hundred()
    data, spacing = sheet_data("The cork wakes", plan), strip_data("The cork wakes", plan)
    return [
        Result(
            "sheet.pdf of 3,120 frames", milliseconds(lambda: sheet.render(data), 1), 5000, "ms"
        ),
        Result(
            "strips.pdf of 100 moves", milliseconds(lambda: strips.render(spacing), 1), 5000, "ms"
        ),
    ]


def truth() -> list[Result]:
    rng = random.Random(2)
    count, drift, alone = (100_000 if LONG else 2_000), 0.0, 0.0
    for _ in range(count):
        plan = [Duration(Fraction(rng.randint(100, 3000), 1000)) for _ in range(40)]
        exact = [item.exact_frames(NTSC) for item in plan]
        drift = max(drift, abs(float(frame_ends(plan, NTSC)[-1] - sum(exact))))
        alone = max(alone, abs(float(sum(round(f) for f in exact) - sum(exact))))
    frames = range(0, 24 * 107_892, 1 if LONG else 97)
    wrong = sum(frame_of(timecode(f, NTSC), NTSC) != f for f in frames)
    return [
        Result(
            "worst drift of 40 actions", drift, 0.5, f"frames (rounded one by one: {alone:.2f})"
        ),
        Result(f"drop-frame round trips wrong of {len(frames):,}", wrong, 0, "frames"),
    ]


def main() -> int:
    """Measures, prints, and tells whether all goals were kept."""
    print(f"{'measured':<58} {'value':>10} {'goal':>10}")
    results = [*speeds(), *papers(), *truth()]
    for result in results:
        print(result)
    return 0 if all(result.kept for result in results) else 1


if __name__ == "__main__":
    sys.exit(main())
