"""`/trigger`: what fires the shutter."""

from typing import Any, Literal

from apiflask import APIBlueprint
from pydantic import Field

from standclear.shooting.trigger import as_json
from standclear.web.context import library, stage
from standclear.web.models import In, Out


class TriggerIn(In):
    """The mode, where the pictures go, and the seconds of the countdown or interval."""

    mode: Literal["manual", "self_timer", "interval"]
    shot: str | None = Field(default=None, max_length=64)
    seconds: float = Field(default=2.0, ge=0.5, le=3600, allow_inf_nan=False)
    start: bool = Field(default=True, description="Begin counting at once.")


class TriggerOut(Out):
    """The trigger as it stands."""

    mode: str
    shot: str | None
    seconds: float
    phase: str
    left_s: float | None
    says: str


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
    return as_json(stage().trigger.set(body.mode, body.shot, body.seconds, start=body.start))


@pages.post("/trigger/press")
@pages.output(TriggerOut)
def press() -> Any:
    """Begin the countdown again."""
    return as_json(stage().trigger.start())


@pages.post("/trigger/cancel")
@pages.output(TriggerOut)
def cancel() -> Any:
    """Stop counting; nothing is taken."""
    return as_json(stage().trigger.cancel())
