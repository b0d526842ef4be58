"""`/shots/{shot}/plan` and what is printed from it. The rules of a plan are `timing/`'s."""

from typing import Any, Literal

from apiflask import APIBlueprint
from flask import Response
from pydantic import Field

from standclear.errors import Invalid
from standclear.finishing import sounds
from standclear.library.records import Shot
from standclear.paper import sheet, strips
from standclear.paper.sheet_data import sheet_data
from standclear.paper.strip_data import strip_data
from standclear.timing.errors import PlanError, TimingError
from standclear.timing.plan import Plan
from standclear.timing.plan_convert import from_stored, stored
from standclear.timing.plan_csv import plan_csv
from standclear.timing.plan_json import PlanIn, PlanOut
from standclear.timing.plan_resource import changed, described
from standclear.timing.progress import Shown, settle
from standclear.timing.rates import parse_rate
from standclear.web import calibration
from standclear.web.context import library, stage
from standclear.web.etags import if_revision, with_revision
from standclear.web.models import Query

pages = APIBlueprint("plan", __name__, tag="plan")


class PlanRefused(Invalid):
    """The plan cannot be read or cannot be; ``line`` and ``column`` say where, from 1."""

    code = "plan_refused"
    title = "The plan cannot be read"
    hint = "Look at the line and column that the detail names."


class PaperQuery(Query):
    """The paper in the printer."""

    paper: Literal["A4", "Letter"] = Field(default="A4")


def refused(error: TimingError) -> PlanRefused:
    """A refusal of the arithmetic's as a Problem."""
    line, column = (error.line, error.column) if isinstance(error, PlanError) else (0, 0)
    return PlanRefused(error.sentence, line=line or None, column=column or None)


def shown(shot_id: str) -> list[Shown]:
    """The shot's exposures in order, as the plan counts them."""
    return [Shown(line.id, line.hold) for line in library().outline(shot_id)]


def plan_of(shot: Shot) -> tuple[Plan, int]:
    """The shot's plan (an empty one where there is none) and its revision."""
    data, revision = library().plan(shot.id)
    return from_stored(data, parse_rate(shot.frame_rate)), revision


def answer(shot: Shot) -> dict[str, Any]:
    """GET /plan."""
    plan, revision = plan_of(shot)
    found = described(plan, shown(shot.id), revision)
    if plan.table:
        found.calibration_due = calibration.due(shot.id)
    return found.model_dump(mode="json")


@pages.get("/shots/<shot_id>/plan")
@pages.output(PlanOut)
def get_plan(shot_id: str) -> Any:
    """The plan, and where the shot stands in it."""
    try:
        return with_revision(answer(library().shot(shot_id)))
    except TimingError as error:
        raise refused(error) from error


@pages.put("/shots/<shot_id>/plan")
@pages.input(PlanIn, arg_name="body")
@pages.output(PlanOut)
def put_plan(shot_id: str, body: PlanIn) -> Any:
    """Replace or edit the plan: as actions, typed text, CSV, or a list of edits."""
    shot = library().shot(shot_id)
    asked_for = if_revision()
    try:
        before, revision = plan_of(shot)
        after = settle(changed(before, body, shown(shot_id)), shown(shot_id))
        library().put_plan(shot_id, stored(after), revision if asked_for is None else asked_for)
        if body.calibration:
            calibration.note(shot_id)
        found = answer(shot)
    except TimingError as error:
        raise refused(error) from error
    stage().events.publish("plan", {"shot": shot_id, "revision": found["revision"]})
    return with_revision(found)


@pages.get("/shots/<shot_id>/plan.csv")
@pages.doc(responses={200: "The plan as CSV (RFC 4180)."})
def get_plan_csv(shot_id: str) -> Any:
    """The plan as CSV."""
    plan, _ = plan_of(library().shot(shot_id))
    return Response(plan_csv(plan), mimetype="text/csv")


@pages.get("/shots/<shot_id>/sheet.pdf")
@pages.input(PaperQuery, location="query", arg_name="query")
@pages.doc(responses={200: "A PDF."})
def get_sheet(shot_id: str, query: PaperQuery) -> Any:
    """The exposure sheet: one row a frame, what is shot marked as done."""
    shot = library().shot(shot_id)
    try:
        plan, _ = plan_of(shot)
        data = sheet_data(shot.name, plan, shown(shot_id), sound_marks(shot_id))
        return pdf(sheet.render(data, query.paper), f"{shot_id}-sheet.pdf")
    except TimingError as error:
        raise refused(error) from error


@pages.get("/shots/<shot_id>/strips.pdf")
@pages.input(PaperQuery, location="query", arg_name="query")
@pages.doc(responses={200: "A PDF; print it at 100 %."})
def get_strips(shot_id: str, query: PaperQuery) -> Any:
    """Spacing strips at true scale, to lay along the path."""
    shot = library().shot(shot_id)
    try:
        plan, _ = plan_of(shot)
        data = strip_data(shot.name, plan, shown(shot_id))
        return pdf(strips.render(data, query.paper), f"{shot_id}-strips.pdf")
    except TimingError as error:
        raise refused(error) from error


def sound_marks(shot_id: str) -> dict[int, str]:
    """What is heard at a frame, as the animator marked it."""
    return sounds.sound_marks(library(), shot_id)


def pdf(data: bytes, name: str) -> Response:
    """A PDF to look at or print; it changes with the plan, so it is not cached."""
    response = Response(data, mimetype="application/pdf")
    response.headers["Content-Disposition"] = f'inline; filename="{name}"'
    response.headers["Cache-Control"] = "no-store"
    return response
