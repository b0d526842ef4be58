"""`/shots/{shot}/thresholds`: from which size on a change is worth a word."""

from typing import Any

from apiflask import APIBlueprint
from flask import jsonify
from pydantic import RootModel

from standclear.web.context import library, stage


class ThresholdsIn(RootModel[dict[str, float | None]]):
    """Values by name, in the unit that the name ends in; null goes back to what the steady test or
    the default says."""


pages = APIBlueprint("thresholds", __name__, tag="thresholds")


@pages.get("/shots/<shot_id>/thresholds")
@pages.doc(responses={200: "Thresholds by name, the unit in the name."})
def get_thresholds(shot_id: str) -> Any:
    """The shot's thresholds."""
    library().shot(shot_id)
    return jsonify(stage().watches.thresholds(shot_id).as_dict())


@pages.patch("/shots/<shot_id>/thresholds")
@pages.input(ThresholdsIn, arg_name="body")
@pages.doc(responses={200: "Thresholds by name, the unit in the name."})
def change_thresholds(shot_id: str, body: ThresholdsIn) -> Any:
    """Set thresholds by name. Verdicts that were given stay as they are."""
    return jsonify(stage().watches.set_thresholds(shot_id, body.root).as_dict())
