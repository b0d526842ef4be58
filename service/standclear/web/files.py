"""Original and preview files of an exposure. They never change, so they may be cached for good."""

from pathlib import Path
from typing import Any

from apiflask import APIBlueprint
from flask import Response, send_file
from pydantic import Field

from standclear.errors import NotFound
from standclear.web.context import library
from standclear.web.models import Query

FOR_GOOD = "private, max-age=31536000, immutable"


class OriginalQuery(Query):
    """Which file of the exposure (RAW+JPEG has two)."""

    file: int = Field(default=0, ge=0, le=9)


class PreviewQuery(OriginalQuery):
    """How wide; snapped up to 160, 320, 640, 960, 1280, 1920 or 2560."""

    width: int = Field(default=1280, ge=1, le=8192)


pages = APIBlueprint("files", __name__, tag="files")


@pages.get("/shots/<shot_id>/exposures/<exposure_id>/original")
@pages.input(OriginalQuery, location="query", arg_name="query")
@pages.doc(responses={200: "The file, byte for byte as the camera gave it."})
def original(shot_id: str, exposure_id: str, query: OriginalQuery) -> Any:
    """The file as the camera gave it."""
    exposure = library().exposure(shot_id, exposure_id)
    if query.file >= len(exposure.originals):
        raise NotFound("The exposure has no such file.")
    file = exposure.originals[query.file]
    path = library().original_path(shot_id, exposure_id, query.file)
    return lasting(path, file.media_type, file.sha256, file.name)


@pages.get("/shots/<shot_id>/exposures/<exposure_id>/preview")
@pages.input(PreviewQuery, location="query", arg_name="query")
@pages.doc(responses={200: "A JPEG of about that width."})
def preview(shot_id: str, exposure_id: str, query: PreviewQuery) -> Any:
    """A JPEG of about that width, made once."""
    path = library().preview(shot_id, exposure_id, query.width, query.file)
    return lasting(path, "image/jpeg", f"{exposure_id}-{query.file}-{path.stem}")


def lasting(path: Path, media_type: str, etag: str, name: str | None = None) -> Response:
    """A file that never changes. SVG and HTML cannot come from here as such: see ``nosniff``."""
    if not path.exists():
        raise NotFound("The file is missing from the library; run `standclear check`.")
    response = send_file(
        path, mimetype=media_type, etag=etag, conditional=True, download_name=name, max_age=31536000
    )
    response.headers["Cache-Control"] = FOR_GOOD
    response.headers["X-Content-Type-Options"] = "nosniff"
    return response
