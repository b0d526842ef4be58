"""`/shots`: the shots, their bin, undo and redo."""

from collections.abc import Callable
from typing import Any

from apiflask import APIBlueprint
from flask import Response
from pydantic import Field

from standclear.errors import Invalid
from standclear.library.records import Shot
from standclear.shooting import describe
from standclear.web.context import context, library, stage
from standclear.web.etags import if_revision, with_revision
from standclear.web.models import ExposuresOut, In, Query, ShotOut, ShotsOut


class ShotIn(In):
    """A new shot."""

    name: str = Field(min_length=1, max_length=200)
    frame_rate: str = Field(default="12", max_length=32, description='"12", "24", "24000/1001"')
    notes: str = Field(default="", max_length=10_000)


class ShotChange(In):
    """What to change; what is left out stays."""

    name: str | None = Field(default=None, min_length=1, max_length=200)
    frame_rate: str | None = Field(default=None, max_length=32)
    notes: str | None = Field(default=None, max_length=10_000)


class EmptyBinIn(In):
    """Emptying the bin removes for good, so it is asked for by the shot's name."""

    confirm: str = Field(max_length=200)


class PageQuery(Query):
    """Which page."""

    after: str | None = Field(default=None, max_length=200)
    limit: int = Field(default=100, ge=1, le=1000)


class ShotsQuery(PageQuery):
    """Which page, and whether the shots in the bin are asked for."""

    binned: bool = False


pages = APIBlueprint("shots", __name__, tag="shots")


def tell(shot: Shot) -> None:
    stage().events.publish("shot", {"id": shot.id, "shot": describe.shot(shot)})


def tell_edited(shot: Shot) -> None:
    stage().watches.changed(shot.id)
    stage().events.publish("edited", {"shot": describe.shot(shot), "exposures": None})


@pages.get("/shots")
@pages.input(ShotsQuery, location="query", arg_name="query")
@pages.output(ShotsOut)
def list_shots(query: ShotsQuery) -> Any:
    """The shots in the order they were made; with `binned=true` those in the bin."""
    find = library().binned_shots if query.binned else library().shots
    page = find(after=query.after, limit=query.limit)
    return {"items": [describe.shot(shot) for shot in page.items], "next": page.next}


@pages.post("/shots")
@pages.input(ShotIn, arg_name="body")
@pages.output(ShotOut, status_code=201)
def create_shot(body: ShotIn) -> Any:
    """Make a shot."""

    def perform(_key: object, _kept: object) -> tuple[dict[str, Any], int]:
        shot = library().create_shot(body.name, frame_rate=body.frame_rate, notes=body.notes)
        tell(shot)
        return describe.shot(shot), 201

    answer, status = context().once.do(perform)
    response = with_revision(answer, status)
    response.headers["Location"] = f"{describe.API}/shots/{answer['id']}"
    return response


@pages.get("/shots/<shot_id>")
@pages.output(ShotOut)
def get_shot(shot_id: str) -> Any:
    """One shot."""
    return with_revision(describe.shot(library().shot(shot_id)))


@pages.patch("/shots/<shot_id>")
@pages.input(ShotChange, arg_name="body")
@pages.output(ShotOut)
def change_shot(shot_id: str, body: ShotChange) -> Any:
    """Change name, frame rate or notes."""
    shot = library().change_shot(
        shot_id,
        name=body.name,
        frame_rate=body.frame_rate,
        notes=body.notes,
        if_revision=if_revision(),
    )
    tell(shot)
    return with_revision(describe.shot(shot))


@pages.delete("/shots/<shot_id>")
@pages.output({}, status_code=204)
def bin_shot(shot_id: str) -> Any:
    """Move the shot to the bin; nothing is removed."""
    library().bin_shot(shot_id, if_revision=if_revision())
    stage().events.publish("shot", {"id": shot_id, "shot": None})
    return Response(status=204)


@pages.post("/shots/<shot_id>/restore")
@pages.output(ShotOut)
def restore_shot(shot_id: str) -> Any:
    """Take the shot out of the bin again."""
    shot = library().restore_shot(shot_id)
    tell(shot)
    return with_revision(describe.shot(shot))


@pages.get("/shots/<shot_id>/bin")
@pages.input(PageQuery, location="query", arg_name="query")
@pages.output(ExposuresOut)
def list_bin(shot_id: str, query: PageQuery) -> Any:
    """The shot's exposures in the bin, in the order of taking."""
    page = library().binned(shot_id, after=query.after, limit=query.limit)
    return {"items": [describe.exposure(one) for one in page.items], "next": page.next}


@pages.delete("/shots/<shot_id>/bin")
@pages.input(EmptyBinIn, arg_name="body")
@pages.output({}, status_code=204)
def empty_bin(shot_id: str, body: EmptyBinIn) -> Any:
    """Remove what is in the bin for good; `confirm` must be the shot's name."""
    if body.confirm != library().shot(shot_id).name:
        raise Invalid("To empty the bin, send the shot's name as confirm.")
    library().empty_bin(shot_id)
    tell_edited(library().shot(shot_id))
    return Response(status=204)


@pages.post("/shots/<shot_id>/undo")
@pages.output(ShotOut)
def undo(shot_id: str) -> Any:
    """Take back the last edit."""
    return stepped(lambda: library().undo(shot_id))


@pages.post("/shots/<shot_id>/redo")
@pages.output(ShotOut)
def redo(shot_id: str) -> Any:
    """Carry out again what was taken back."""
    return stepped(lambda: library().redo(shot_id))


def stepped(step: Callable[[], Shot]) -> Response:
    def perform(_key: object, _kept: object) -> tuple[dict[str, Any], int]:
        shot = step()
        tell_edited(shot)
        return describe.shot(shot), 200

    answer, status = context().once.do(perform)
    return with_revision(answer, status)
