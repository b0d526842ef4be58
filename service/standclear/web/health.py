"""`/health`: open to all, so it says little."""

from typing import Any, Literal

from apiflask import APIBlueprint

from standclear import __version__
from standclear.web.context import stage
from standclear.web.models import Out


class HealthOut(Out):
    """Whether the service is well."""

    status: Literal["well", "ailing"]
    version: str
    says: str


pages = APIBlueprint("health", __name__, tag="health")


@pages.get("/health")
@pages.output(HealthOut)
def health() -> Any:
    """Version, and whether camera and library answer."""
    state = stage().camera()
    well = state.state in ("ready", "exposing", "opening")
    return {
        "status": "well" if well else "ailing",
        "version": __version__,
        "says": "All is well." if well else state.says,
    }
