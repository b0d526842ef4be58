"""Whether a shot's plan can be shot at its frame rate.

A plan is kept without a rate, since it follows the shot's. What is long enough at one rate may be
shorter than a frame at another, so a rate is changed, and a change taken back, only where the plan
stays one that can be read.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Connection

from standclear.library import rows
from standclear.library.steps import Step
from standclear.library.values import refuse
from standclear.timing.errors import TimingError
from standclear.timing.plan_convert import from_stored
from standclear.timing.rates import parse_rate
from standclear.timing.targets import check_moves


def check_steps(c: Connection, shot_id: str, steps: Sequence[Step]) -> None:
    """After ``steps`` were carried out: raises :class:`Invalid` when the plan does not fit the
    frame rate that they set."""
    if any(step[:2] == ["shot", "frame_rate"] for step in steps):
        row = rows.shot_row(c, shot_id)
        check_plan(row.plan, row.frame_rate)


def check_plan(plan: Mapping[str, Any] | None, frame_rate: str) -> None:
    """Raises :class:`Invalid`, naming the field ``frame_rate``."""
    try:
        check_moves(from_stored(None if plan is None else dict(plan), parse_rate(frame_rate)))
    except TimingError as error:
        raise refuse(
            "frame_rate",
            f"The plan does not fit {frame_rate} frames per second: {error.sentence} "
            "Change the plan first.",
        ) from error
