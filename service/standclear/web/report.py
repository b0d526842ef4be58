"""`/shots/{shot}/report`: what the watches saw over a whole shot, and the plan against it."""

from typing import Any

from apiflask import APIBlueprint
from pydantic import Field

from standclear.shooting.report import report
from standclear.timing.errors import TimingError
from standclear.web.context import library, stage
from standclear.web.models import Out, Query
from standclear.web.plan import plan_of, refused

MOST = 5000


class ReportQuery(Query):
    """Which exposures `frames` holds; everything else is about the whole shot."""

    first: int = Field(default=1, ge=1, le=10_000_000, description="Number of the first one.")
    limit: int = Field(default=1000, ge=1, le=MOST)


class ReportOut(Out):
    """By exposure and as a whole; each figure's unit stands in its name."""

    shot: str
    exposure_count: int
    frame_count: int
    frames: list[dict[str, Any]]
    worst: list[dict[str, Any]]
    plan: dict[str, Any]
    thresholds: dict[str, float]
    spacing_unit: str
    spacing_error_percent: float | None
    next: int | None


pages = APIBlueprint("report", __name__, tag="report")


@pages.get("/shots/<shot_id>/report")
@pages.input(ReportQuery, location="query", arg_name="query")
@pages.output(ReportOut)
def get_report(shot_id: str, query: ReportQuery) -> Any:
    """Light, rig, focus and spacing by exposure, worst first; the plan against what was shot."""
    shot = library().shot(shot_id)
    try:
        plan, _ = plan_of(shot)
        found = report(
            library().judged(shot_id), plan, width_of(shot_id), first=query.first, most=query.limit
        )
    except TimingError as error:
        raise refused(error) from error
    after = query.first + query.limit
    return {
        "shot": shot_id,
        "frame_rate": shot.frame_rate,
        **found,
        "thresholds": stage().watches.thresholds(shot_id).as_dict(),
        "next": after if after <= found["exposure_count"] else None,
    }


def width_of(shot_id: str) -> int | None:
    """The width of the shot's pictures in pixels, by its first exposure."""
    page = library().exposures(shot_id, limit=1)
    originals = page.items[0].originals if page.items else ()
    return originals[0].width if originals else None
