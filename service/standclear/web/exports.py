"""`/exports`: finishing jobs, their progress and result."""

from typing import Any

from apiflask import APIBlueprint
from flask import Response, send_file

from standclear.finishing.api import media_type_of
from standclear.finishing.filming import film_shot
from standclear.finishing.job_store import ExportJob
from standclear.finishing.options import ExportOptions
from standclear.shooting import describe
from standclear.web.context import context, library
from standclear.web.models import Out

pages = APIBlueprint("exports", __name__, tag="exports")


class ExportOut(Out):
    """One export: what was asked, where it stands, what came of it."""

    id: str
    shot: str
    name: str
    options: dict[str, Any]
    created_at: str
    state: str
    says: str
    phase: str
    frames_done: int
    frames_total: int
    seconds_left: float | None
    report: dict[str, Any] | None
    problem: dict[str, str] | None
    file: str | None


class ExportsOut(Out):
    """Exports, newest first."""

    items: list[ExportOut]
    next: str | None


def as_json(job: ExportJob) -> dict[str, Any]:
    """An export as the API and the event stream show it."""
    done = job.state == "done"
    return {**job.as_json(), "file": f"{describe.API}/exports/{job.id}/file" if done else None}


@pages.get("/shots/<shot_id>/exports")
@pages.output(ExportsOut)
def list_exports(shot_id: str) -> Any:
    """The shot's exports, newest first."""
    library().shot(shot_id)
    return {"items": [as_json(job) for job in context().desk.list(shot_id)], "next": None}


@pages.post("/shots/<shot_id>/exports")
@pages.input(ExportOptions, arg_name="body")
@pages.output(ExportOut, status_code=202)
def make_export(shot_id: str, body: ExportOptions) -> Any:
    """Queue an export of the shot as it is now."""

    def perform(_key: object, _kept: object) -> tuple[dict[str, Any], int]:
        job = context().desk.submit(shot_id, film_shot(library(), shot_id), body)
        return as_json(job), 202

    answer, status = context().once.do(perform)
    return answer, status, {"Location": f"{describe.API}/exports/{answer['id']}"}


@pages.get("/exports/<export_id>")
@pages.output(ExportOut)
def get_export(export_id: str) -> Any:
    """One export and how far it is."""
    return as_json(context().desk.get(export_id))


@pages.post("/exports/<export_id>/cancel")
@pages.output(ExportOut)
def cancel_export(export_id: str) -> Any:
    """Stop making it; nothing is left of it."""
    return as_json(context().desk.cancel(export_id))


@pages.delete("/exports/<export_id>")
@pages.output({}, status_code=204)
def remove_export(export_id: str) -> Any:
    """Remove the export and its file; the originals are not touched."""
    context().desk.remove(export_id)
    return Response(status=204)


@pages.get("/exports/<export_id>/file")
@pages.doc(responses={200: "The film."})
def export_file(export_id: str) -> Any:
    """The finished file."""
    desk = context().desk
    path = desk.file(export_id)
    options = ExportOptions.model_validate(desk.get(export_id).options)
    response = send_file(
        path,
        mimetype=media_type_of(options, path),
        as_attachment=True,
        download_name=path.name,
        conditional=True,
        etag=export_id,
    )
    response.headers["Cache-Control"] = "private, no-cache"
    return response
