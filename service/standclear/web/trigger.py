"""`/trigger`: what fires the shutter."""

from typing import Any, Literal

from apiflask import APIBlueprint
from flask import Response
from pydantic import Field

from standclear.shooting.stepback.machine import Options
from standclear.shooting.stepback_runner import Wish
from standclear.shooting.trigger import as_json
from standclear.web.context import library, stage
from standclear.web.models import In, Out


class TriggerIn(In):
    """The mode, where the pictures go, and the seconds of the countdown or interval.

    For `step_back`: `only_ask` readies the shutter and waits for a press, `countdown_s` gives light
    taps before it fires, `limit` holds back after so many pictures, `by_action` at the end of each
    action of the plan, `eye` is the camera that
    watches (none: the one in use), `mute` keeps the page's state sounds off.
    """

    mode: Literal["manual", "self_timer", "interval", "step_back"]
    shot: str | None = Field(default=None, max_length=64)
    seconds: float = Field(default=2.0, ge=0, le=3600, allow_inf_nan=False)
    start: bool = Field(default=True, description="Begin counting at once.")
    only_ask: bool = False
    countdown_s: float = Field(default=0.0, ge=0, le=60, allow_inf_nan=False)
    limit: int | None = Field(default=None, ge=1, le=100_000)
    by_action: bool = True
    eye: str | None = Field(default=None, min_length=1, max_length=1000)
    mute: bool = False


class TriggerOut(Out):
    """The trigger as it stands; in the mode `step_back` also its state, cause and figures."""

    mode: str
    shot: str | None
    seconds: float
    phase: str
    left_s: float | None
    says: str
    state: str | None = None
    cause: str | None = None
    figures: dict[str, Any] | None = None


pages = APIBlueprint("trigger", __name__, tag="trigger")


@pages.get("/trigger")
@pages.output(TriggerOut)
def trigger() -> Any:
    """The trigger as it stands."""
    return as_json(stage().trigger.state())


@pages.put("/trigger")
@pages.input(TriggerIn, arg_name="body")
@pages.output(TriggerOut)
def set_trigger(body: TriggerIn) -> Any:
    """Choose the mode; self-timer and interval begin to count unless `start` is false."""
    if body.shot is not None:
        library().shot(body.shot)
    chosen = stage().trigger
    if body.mode == "step_back" and body.shot is not None:
        options = Options(body.only_ask, body.countdown_s, body.limit, body.by_action)
        return as_json(chosen.watch(Wish(body.shot, options, body.eye, body.mute)))
    return as_json(chosen.set(body.mode, body.shot, body.seconds, start=body.start))


@pages.post("/trigger/press")
@pages.output(TriggerOut)
def press() -> Any:
    """Begin the countdown again; or take what the step-back trigger asks about."""
    return as_json(stage().trigger.start())


@pages.post("/trigger/cancel")
@pages.output(TriggerOut)
def cancel() -> Any:
    """Stop counting; nothing is taken."""
    return as_json(stage().trigger.cancel())


@pages.post("/trigger/hold_back")
@pages.output(TriggerOut)
def hold_back() -> Any:
    """The step-back trigger takes nothing until hands come in again, or until a press."""
    return as_json(stage().trigger.cancel())


@pages.get("/trigger/mask.png")
@pages.doc(responses={200: "A grey PNG."})
def mask() -> Any:
    """What the step-back trigger sees, one pixel for 4 × 4 px of a picture 640 wide: 0 nothing, 85
    changed by light alone, 170 a thing changed, 255 a thing at the edge."""
    response = Response(stage().trigger.mask_png(), mimetype="image/png")
    response.headers["Cache-Control"] = "no-store"
    return response
