"""`/mirror`: the second copy, and how far it is behind.

Where it lies is said on the host alone (`--mirror`): a paired phone must not be able to make the
service write to other folders or speak to other machines.
"""

from typing import Any, Literal

from apiflask import APIBlueprint
from pydantic import Field

from standclear.errors import Conflict
from standclear.shooting import describe
from standclear.web.context import context
from standclear.web.models import In, Out


class MirrorIn(In):
    """What is to change; either way the place is tried again at once."""

    paused: bool | None = Field(default=None, description="Stop copying, or go on.")
    begin: bool = Field(
        default=False,
        description="Begin a new copy at the same address, on another disk than before.",
    )


class MirrorOut(Out):
    """The second copy. `lag_s` is the age of the oldest exposure that waits to be copied."""

    where: str | None
    state: Literal["off", "in_step", "copying", "away", "fault", "paused"]
    says: str
    waiting_exposures: int
    waiting_bytes: int
    lag_s: float
    copied_exposures: int
    last_copied_at: str | None
    caution: str


pages = APIBlueprint("mirror", __name__, tag="mirror")


@pages.get("/mirror")
@pages.output(MirrorOut)
def mirror() -> Any:
    """Where the second copy lies, how far it is behind, and why."""
    mirroring = context().mirroring
    return describe.mirror(None if mirroring is None else mirroring.state())


@pages.put("/mirror")
@pages.input(MirrorIn, arg_name="body")
@pages.output(MirrorOut)
def change_mirror(body: MirrorIn) -> Any:
    """Pause it, go on, or begin a new copy; each tries the place again at once."""
    mirroring = context().mirroring
    if mirroring is None:
        raise Conflict("There is no second copy: start the service with --mirror.")
    return describe.mirror(mirroring.change(paused=body.paused, begin=body.begin))
