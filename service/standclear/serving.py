"""From settings to a running service: open the library, take up the camera, serve, leave."""

import logging
import os
import socket
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass

import click
import segno

from standclear.cameras.kinds import attached, camera_from_id
from standclear.clock import SystemClock
from standclear.finishing.jobs import ExportDesk
from standclear.library.library import Library
from standclear.library.mirror.address import must_be_apart, parse
from standclear.library.mirror.mirror import Mirror
from standclear.library.mirror.place import place_at
from standclear.settings import ServeSettings
from standclear.shooting.mirroring import Mirroring
from standclear.shooting.stage import Stage
from standclear.web import exports, server
from standclear.web.app import create_app
from standclear.web.gate import CODE_MINUTES, Gate

FINISH_CAPTURE_S = 30.0
EXPORTS_FOLDER = "exports"


@dataclass(frozen=True, slots=True)
class Addresses:
    """Where the service listens, and the address that a phone can reach."""

    listening: str
    phone: str


def addresses(host: str, port: int) -> Addresses:
    """The addresses to print. A wildcard is shown as this machine's address on its network."""
    everywhere = host in ("", "0.0.0.0", "::")
    shown = outward_address() if everywhere else host
    bracketed = f"[{shown}]" if ":" in shown else shown
    listening = "127.0.0.1" if everywhere else bracketed
    return Addresses(f"http://{listening}:{port}", f"http://{bracketed}:{port}")


def outward_address() -> str:
    """This machine's address on the network that leads out; nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # TEST-NET-1 (RFC 5737): a route, never a packet
            return str(probe.getsockname()[0])
        except OSError:
            return "127.0.0.1"


def run(settings: ServeSettings) -> None:
    """Serve until told to stop. Raises StandclearError or OSError when it cannot start."""
    logging.basicConfig(level=logging.INFO, format="%(levelname)s %(name)s: %(message)s")
    logging.getLogger("alembic").setLevel(logging.WARNING)
    camera = camera_from_id(settings.camera)
    clock = SystemClock()
    library = Library.open(settings.library, clock)
    try:
        listener = server.listen(settings.host, settings.port)
    except OSError:
        library.close()
        raise
    stage = Stage(
        library=library,
        clock=clock,
        make_camera=lambda camera_id: (
            camera if camera_id == settings.camera else camera_from_id(camera_id)
        ),
        camera=settings.camera,
    )
    gate = Gate(library, clock)
    desk = ExportDesk(
        settings.library / EXPORTS_FOLDER,
        clock,
        may_run=stage.shutter.is_idle,
        on_change=lambda job: stage.events.publish("export", exports.as_json(job)),
    )
    mirroring = second_copy(settings, stage)
    service = create_app(
        stage, gate, desk, attached=attached, names=settings.names, mirroring=mirroring
    )
    found = addresses(settings.host, listener.getsockname()[1])

    def ready() -> None:
        click.echo(f"listening on {found.listening}")
        welcome(found, gate.new_code())
        threading.Thread(
            target=renew_on_key, args=(found, gate.new_code), name="keys", daemon=True
        ).start()

    def farewell() -> None:
        stage.shutter.wait_idle(FINISH_CAPTURE_S)
        service.viewers.close_all()
        stage.farewell(FINISH_CAPTURE_S)
        if mirroring is not None:
            mirroring.stop()

    server.serve(service.app, listener, ready=ready, farewell=farewell)
    desk.close()
    library.close()
    leave()


def second_copy(settings: ServeSettings, stage: Stage) -> Mirroring | None:
    """The second copy, begun; ``None`` where none is asked for. Raises :class:`Invalid`."""
    if not settings.mirror:
        return None
    address = parse(settings.mirror)
    must_be_apart(address, stage.library.folder)
    mirror = Mirror(stage.library, place_at(address), stage.clock)
    mirroring = Mirroring(mirror, stage.clock, stage.events, stage.shutter.wait_quiet)
    mirroring.start()
    return mirroring


def welcome(found: Addresses, code: str) -> None:
    """Print address, code and QR. The code in the QR stands in the fragment: it is never sent."""
    click.echo(f"\nOpen {found.phone} on the phone, or point its camera here:\n")
    segno.make(f"{found.phone}/#code={code}", error="m").terminal(out=sys.stdout, compact=True)
    click.echo(f"pairing code: {code[:3]} {code[3:]}")
    click.echo(
        f"Good for one pairing and {CODE_MINUTES} minutes. Enter: a fresh code. Ctrl-C: stop."
    )
    sys.stdout.flush()


def renew_on_key(found: Addresses, new_code: Callable[[], str]) -> None:
    """A press of Enter on the host shows a fresh code."""
    if not sys.stdin or not sys.stdin.isatty():
        return
    for _line in sys.stdin:
        welcome(found, new_code())


def leave() -> None:
    """End at once. Everything is closed by now; what is left are threads that wait in recv() for
    clients that will never speak, and Python would wait for them."""
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(0)
