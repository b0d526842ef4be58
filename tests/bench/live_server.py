"""The service on the rehearsal set with one route more: its live pictures as multipart MJPEG.

Usage: python -m tests.bench.live_server LIBRARY. What the live view is compared with comes from the
same process and the same pictures.
"""

import sys
from collections.abc import Iterator
from pathlib import Path

from flask import Response

from standclear.cameras.kinds import attached, camera_from_id
from standclear.clock import SystemClock
from standclear.finishing.jobs import ExportDesk
from standclear.library.library import Library
from standclear.shooting.stage import Stage
from standclear.web.app import create_app
from standclear.web.gate import Gate
from standclear.web.live import stamped
from tests.bench.serve_stage import serve_stage


def multipart(stage: Stage) -> Iterator[bytes]:
    """Every picture as it comes, the way a plain network camera sends them."""
    seen = 0
    stage.look()
    with stage.live.watching():
        while not stage.live.closed:
            frame = stage.live.newer_than(seen, 1.0)
            if frame is None:
                continue
            seen = frame.seq
            jpeg = stamped(frame, frame.jpeg())
            head = f"--p\r\nContent-Type: image/jpeg\r\nContent-Length: {len(jpeg)}\r\n\r\n"
            yield head.encode() + jpeg + b"\r\n"


def main(folder: Path) -> None:
    """Serve until SIGTERM."""
    clock = SystemClock()
    library = Library.open(folder, clock)
    stage = Stage(library=library, clock=clock, make_camera=camera_from_id, camera="rehearsal")
    desk = ExportDesk(folder / "exports", clock)
    service = create_app(stage, Gate(library, clock), desk, attached=attached)

    @service.app.get("/multipart")
    def _multipart() -> Response:
        return Response(multipart(stage), mimetype="multipart/x-mixed-replace; boundary=p")

    serve_stage(service, stage, desk, library)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
