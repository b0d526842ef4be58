"""What the strips of a shot show, from its plan."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from standclear.timing.durations import exposures_needed
from standclear.timing.easing_text import easing_text
from standclear.timing.errors import PlanError
from standclear.timing.paths import Path
from standclear.timing.plan import Plan, Span
from standclear.timing.plan_words import on_text
from standclear.timing.progress import Shown, frame_owners
from standclear.timing.rates import rate_text
from standclear.timing.targets import planned_ticks, table_path

LONGEST_STRIP_MM = 20_000


@dataclass(frozen=True, slots=True)
class Mark:
    """One exposure on a strip: its way from the start of the path in mm, and its first frame."""

    distance_mm: float
    frame: int
    backwards: bool = False
    done: bool = False


@dataclass(frozen=True, slots=True)
class Strip:
    """The spacing of one move. ``curve`` is its path on the table in mm when it is not straight.

    ``start_mm`` is where on the path the move sets out.
    """

    label: str
    about: str
    start_mm: float
    marks: tuple[Mark, ...]
    curve: Path | None = None


@dataclass(frozen=True, slots=True)
class StripData:
    """All strips of a shot."""

    shot: str
    frame_rate: str
    strips: tuple[Strip, ...]


def strip_data(shot: str, plan: Plan, shown: Sequence[Shown] = ()) -> StripData:
    """The strips of every move whose length on the table is known.

    Raises PlanError, with a sentence, when there is none or one is too long for paper.
    """
    done: dict[str | None, int] = {}
    for owner, item in zip(frame_owners(plan, shown), shown, strict=True):
        done[owner] = done.get(owner, 0) + item.hold
    strips = [
        strip
        for span in plan.spans()
        if (strip := _strip(plan, span, done.get(span.action.id, 0))) is not None
    ]
    if not strips:
        raise PlanError(
            "No move has a length on the table; give one in mm, or calibrate the table first."
        )
    return StripData(shot, rate_text(plan.rate), tuple(strips))


def _strip(plan: Plan, span: Span, frames_done: int) -> Strip | None:
    placed, move = planned_ticks(span, plan.table), span.action.move
    if placed is None or move is None:
        return None
    marks = tuple(
        Mark(t.distance, span.first + t.first_frame - 1, t.step < 0, t.first_frame <= frames_done)
        for t in placed
    )
    if max(abs(mark.distance_mm) for mark in marks) > LONGEST_STRIP_MM:
        raise PlanError(f"“{span.action.label}” is longer than 20 m, too long for paper strips.")
    start = placed[0].distance - placed[0].step
    path = table_path(move, plan.table)
    return Strip(
        span.action.label, _about(span, marks), start, marks, path if _bent(path) else None
    )


def _about(span: Span, marks: Sequence[Mark]) -> str:
    move = span.action.move
    ways = [mark.distance_mm for mark in marks]
    parts = [
        f"frames {span.first}–{span.last}",
        f"{exposures_needed(span.frames, span.action.on)} exposures {on_text(span.action.on)}",
        f"{max(ways) - min(0.0, *ways):.0f} mm",
    ]
    easing = easing_text(move.easing) if move else ""
    return " · ".join([*parts, easing if len(easing) < 40 else "by hand"])


def _bent(path: Path | None) -> bool:
    """Whether the path leaves the straight line between its ends by more than 0.2 mm."""
    if path is None:
        return False
    spots = path.at(np.linspace(0, path.length, 200))
    along = spots[-1] - spots[0]
    chord = float(np.linalg.norm(along))
    if chord < 0.2:
        return True
    offset = spots - spots[0]
    return bool(np.abs(offset[:, 0] * along[1] - offset[:, 1] * along[0]).max() / chord > 0.2)
