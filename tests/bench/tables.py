"""How the benches print: one row a figure, beside its goal."""

import os
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, field

LONG = os.environ.get("STANDCLEAR_LONG") == "1"


@dataclass
class Table:
    """Collects figures and prints them beside their goals."""

    title: str
    rows: list[tuple[str, str, str, str]] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)

    def row(
        self, name: str, value: float, unit: str, goal: float | None = None, *, least: bool = False
    ) -> None:
        """A figure; ``goal`` is the most it may be (or, with ``least``, the least)."""
        if goal is None:
            verdict, shown = "", ""
        else:
            fine = value >= goal if least else value <= goal
            shown = f"{'≥' if least else '≤'} {goal:g} {unit}"
            verdict = "met" if fine else "MISSED"
            if not fine:
                self.missed.append(f"{name}: {value:.4g} {unit}, goal {shown}")
        self.rows.append((name, f"{value:.4g} {unit}", shown, verdict))

    def print(self) -> None:
        """Print it."""
        widths = [max(len(row[column]) for row in self.rows) for column in range(4)]
        print(f"\n{self.title}")
        for row in self.rows:
            print(
                "  " + "  ".join(text.ljust(width) for text, width in zip(row, widths, strict=True))
            )

    def hold(self) -> None:
        """Print, and fail when a goal was missed."""
        self.print()
        assert not self.missed, "; ".join(self.missed)


def percentile(values: Sequence[float], percent: float) -> float:
    """The value that ``percent`` of all do not exceed."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(len(ordered) * percent / 100))]


def median(values: Sequence[float]) -> float:
    """The middle value."""
    return statistics.median(values)
