"""`/shots/{shot}/plan/preview`: what a plan would be, without keeping it.

The page asks it while a move is being drawn or a plan is being typed: so there is one place that
counts frames, eases and measures, and what is shown before saving is what is saved.
"""

from typing import Any

import numpy as np
from apiflask import APIBlueprint
from pydantic import Field

from standclear.timing.errors import TimingError
from standclear.timing.paths import Path
from standclear.timing.plan import Move, Plan
from standclear.timing.plan_json import PlanIn, PlanOut
from standclear.timing.plan_resource import changed, described
from standclear.timing.table import Table
from standclear.timing.targets import table_path
from standclear.web.context import library
from standclear.web.plan import plan_of, refused, shown

PARTS = 96  # of a drawn path: at 1280 px of picture none is longer than a fingertip

pages = APIBlueprint("planpreview", __name__, tag="plan preview")


class PreviewOut(PlanOut):
    """The plan as it would be. ``paths``: each drawn move, from 0 to 1 of its way in equal steps
    on the table, as points of the picture in which it was drawn."""

    paths: dict[str, list[tuple[float, float]]] = Field(default_factory=dict)


@pages.post("/shots/<shot_id>/plan/preview")
@pages.input(PlanIn, arg_name="body")
@pages.output(PreviewOut)
def preview_plan(shot_id: str, body: PlanIn) -> Any:
    """What PUT /plan would make of this; nothing is kept."""
    try:
        before, revision = plan_of(library().shot(shot_id))
        exposures = shown(shot_id)
        after = changed(before, body, exposures)
        found = described(after, exposures, revision).model_dump(mode="json")
        return {**found, "paths": paths(after)}
    except TimingError as error:
        raise refused(error) from error


def paths(plan: Plan) -> dict[str, list[list[float]]]:
    """The drawn moves of a plan in picture pixels, by the id of their action."""
    moves = {action.id: action.move for action in plan.actions}
    return {name: sampled(m, plan.table) for name, m in moves.items() if m and m.points}


def sampled(move: Move, table: Table | None) -> list[list[float]]:
    """``PARTS`` + 1 points along the move; none when they cannot be placed on the picture."""
    on_table = table_path(move, table)
    if on_table is None:
        path = Path(move.points, move.curve)
        spots = path.at(np.linspace(0.0, path.length, PARTS + 1))
    elif table is None:
        return []
    else:
        spots = table.pixels(on_table.at(np.linspace(0.0, on_table.length, PARTS + 1)))
    return [[round(float(x), 2), round(float(y), 2)] for x, y in spots]
