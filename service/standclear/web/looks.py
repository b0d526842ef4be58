"""`/shots/{shot}/looks`: one frame as shot and as the film would show it."""

from typing import Any, Literal

from apiflask import APIBlueprint
from flask import Response
from pydantic import Field

from standclear.finishing.filming import film_shot
from standclear.finishing.options import ExportOptions
from standclear.shooting import describe
from standclear.web.context import context, library
from standclear.web.models import In, Out

pages = APIBlueprint("looks", __name__, tag="looks")


class LookIn(In):
    """Which exposure, by number from 1, and what the film is to be like."""

    exposure: int = Field(ge=1)
    options: ExportOptions = Field(default_factory=ExportOptions)


class LookOut(Out):
    """Where the two pictures are found, for a while."""

    exposure: int
    before: str
    after: str


@pages.post("/shots/<shot_id>/looks")
@pages.input(LookIn, arg_name="body")
@pages.output(LookOut, status_code=201)
def make_look(shot_id: str, body: LookIn) -> Any:
    """Make the two pictures; the first look at a shot measures it, which takes a while."""
    shot = library().shot(shot_id)
    name = context().looks.make(
        shot_id,
        shot.revision,
        lambda: film_shot(library(), shot_id),
        body.options,
        body.exposure,
    )
    address = f"{describe.API}/looks/{name}"
    return {
        "exposure": body.exposure,
        "before": f"{address}/before",
        "after": f"{address}/after",
    }


@pages.get("/looks/<name>/<any(before, after):side>")
@pages.doc(responses={200: "A JPEG."})
def look_picture(name: str, side: Literal["before", "after"]) -> Any:
    """One of the two pictures."""
    found = context().looks.find(name)
    response = Response(found.before if side == "before" else found.after, mimetype="image/jpeg")
    response.headers["Cache-Control"] = "private, max-age=600"
    return response
