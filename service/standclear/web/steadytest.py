"""`/camera/steady-test` and `/shots/{shot}/steady-test`: is the set steady enough to begin?"""

from typing import Any

from apiflask import APIBlueprint
from pydantic import Field

from standclear.errors import NotFound
from standclear.shooting.steadytest import FEWEST, MOST, USUAL
from standclear.web.context import context, stage
from standclear.web.models import In, Out


class SteadyTestIn(In):
    """How many pictures, and the shot that keeps the diagnosis. All may be left out."""

    shot: str | None = Field(default=None, max_length=64)
    count: int = Field(default=USUAL, ge=FEWEST, le=MOST, description="How many pictures.")


class SymptomOut(Out):
    """One thing that is not steady, and what to do about it."""

    cause: str
    says: str
    figures: dict[str, float]


class SteadyTestOut(Out):
    """The diagnosis. ``noise`` are standard deviations; ``thresholds`` are fitted to them."""

    shot: str | None
    at: str
    count: int
    settings: dict[str, str]
    passed: bool
    symptoms: list[SymptomOut]
    noise: dict[str, float]
    frames_to_average: int
    thresholds: dict[str, float]
    cannot_see: list[str]


pages = APIBlueprint("steadytest", __name__, tag="steady test")


@pages.post("/camera/steady-test")
@pages.input(SteadyTestIn, arg_name="body")
@pages.output(SteadyTestOut)
def run_steady_test(body: SteadyTestIn) -> Any:
    """Take a short series with nothing moving; nothing of it goes into the film."""

    def perform(_key: str | None, _kept: object) -> tuple[dict[str, Any], int]:
        return stage().steady_test.run(body.count, body.shot), 200

    return context().once.do(perform)


@pages.get("/shots/<shot_id>/steady-test")
@pages.output(SteadyTestOut)
def get_steady_test(shot_id: str) -> Any:
    """The shot's last steady test."""
    found = stage().steady_test.last(shot_id)
    if found is None:
        raise NotFound("This shot has had no steady test yet.")
    return found
