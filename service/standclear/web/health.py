"""`/health`: open to all, so it says little."""

import time
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
    now_ms: int


pages = APIBlueprint("health", __name__, tag="health")


@pages.get("/health")
@pages.output(HealthOut)
def health() -> Any:
    """Version, whether camera and library answer, and the service's time in ms since 1970."""
    state = stage().camera()
    well = state.state in ("ready", "exposing", "opening")
    return {
        "status": "well" if well else "ailing",
        "version": __version__,
        "says": "All is well." if well else state.says,
        "now_ms": time.time_ns() // 1_000_000,
    }
