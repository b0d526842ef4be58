"""`/shots/{shot}/clean-up`: what was drawn to be painted out, kept with the shot."""

from typing import Any

from apiflask import APIBlueprint
from flask import Response
from pydantic import Field

from standclear.finishing.options import Stroke
from standclear.web.context import library
from standclear.web.models import In, Out

pages = APIBlueprint("clean-up", __name__, tag="clean-up")


class MaskIn(In):
    """What was drawn over one exposure; it holds until the next one that was drawn over."""

    exposure: str = Field(min_length=1, max_length=64, description="Its id.")
    strokes: list[Stroke] = Field(min_length=1, max_length=200)


class CleanUpIn(In):
    """By exposure id, so that it stays where it was drawn when others come or go."""

    masks: list[MaskIn] = Field(max_length=100)
    follows: bool = Field(default=True, description="Move along with the object.")
    plate: str | None = Field(
        default=None, max_length=64, description="Id of an exposure without the support, if any."
    )


class CleanUpOut(Out):
    """As it was put; no masks while nothing was drawn."""

    masks: list[dict[str, Any]]
    follows: bool
    plate: str | None


@pages.get("/shots/<shot_id>/clean-up")
@pages.output(CleanUpOut)
def get_clean_up(shot_id: str) -> Any:
    """What was drawn to be painted out."""
    library().shot(shot_id)
    return library().setting(_setting(shot_id)) or {"masks": [], "follows": True, "plate": None}


@pages.put("/shots/<shot_id>/clean-up")
@pages.input(CleanUpIn, arg_name="body")
@pages.output(CleanUpOut)
def put_clean_up(shot_id: str, body: CleanUpIn) -> Any:
    """Keep it with the shot. It alters no picture: an export asks for it by ``clean_up``."""
    library().shot(shot_id)
    named = [mask.exposure for mask in body.masks] + ([body.plate] if body.plate else [])
    for exposure_id in named:
        library().exposure(shot_id, exposure_id)
    kept = body.model_dump(mode="json")
    library().put_setting(_setting(shot_id), kept)
    return kept


@pages.delete("/shots/<shot_id>/clean-up")
@pages.output({}, status_code=204)
def delete_clean_up(shot_id: str) -> Any:
    """Forget what was drawn."""
    library().shot(shot_id)
    library().put_setting(_setting(shot_id), None)
    return Response(status=204)


def _setting(shot_id: str) -> str:
    return f"clean_up:{shot_id}"
