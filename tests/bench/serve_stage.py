"""Serves a set that a measurement put together, until SIGTERM."""

from standclear.finishing.jobs import ExportDesk
from standclear.library.library import Library
from standclear.serving import leave
from standclear.shooting.stage import Stage
from standclear.web import server
from standclear.web.app import Service


def serve_stage(service: Service, stage: Stage, desk: ExportDesk, library: Library) -> None:
    """On a free port of this machine alone; tells its address as `standclear serve` does."""
    listener = server.listen("127.0.0.1", 0)
    port = listener.getsockname()[1]

    def farewell() -> None:
        service.viewers.close_all()
        stage.farewell(5)

    server.serve(
        service.app,
        listener,
        ready=lambda: print(f"listening on http://127.0.0.1:{port}", flush=True),
        farewell=farewell,
    )
    desk.close()
    library.close()
    leave()
