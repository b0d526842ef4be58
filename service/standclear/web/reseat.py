"""`/camera/reseat`: the guide that leads a bumped camera back onto the shot's reference."""

from typing import Any

from apiflask import APIBlueprint
from pydantic import Field

from standclear.errors import Invalid
from standclear.web.context import stage
from standclear.web.models import In, Out


class ReseatIn(In):
    """On, with the shot whose reference counts; or off."""

    on: bool
    shot: str | None = Field(default=None, max_length=64)


class ReseatOut(Out):
    """What the guide told last; figures in pixels of the original while it is on."""

    on: bool
    shot: str | None
    says: str


pages = APIBlueprint("reseat", __name__, tag="re-seat guide")


@pages.get("/camera/reseat")
@pages.output(ReseatOut)
def get_reseat() -> Any:
    """Whether the guide is on, and what it told last."""
    return stage().reseat.state()


@pages.put("/camera/reseat")
@pages.input(ReseatIn, arg_name="body")
@pages.output(ReseatOut)
def put_reseat(body: ReseatIn) -> Any:
    """Guide, by events `reseat`, while somebody watches the live picture; or stop."""
    if not body.on:
        return stage().reseat.stop()
    if body.shot is None:
        raise Invalid("Say for which shot: its reference is what the picture is laid on.")
    return stage().reseat.start(body.shot)
