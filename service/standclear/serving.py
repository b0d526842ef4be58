"""From settings to a running service: open the library, take up the camera, serve, leave."""

import logging
import os
import socket
import sys
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import click
import segno

from standclear.cameras.base import Camera
from standclear.cameras.handset import HandsetCamera, HandsetLink, HandsetLinks
from standclear.cameras.kinds import KINDS, Kind, attached, camera_from_id
from standclear.clock import Clock, SystemClock
from standclear.finishing.jobs import ExportDesk
from standclear.library.library import Library
from standclear.library.mirror.address import must_be_apart, parse
from standclear.library.mirror.mirror import Mirror
from standclear.library.mirror.place import place_at
from standclear.secure.keeper import Certificates
from standclear.secure.names import own_names
from standclear.settings import ServeSettings
from standclear.shooting.mirroring import Mirroring
from standclear.shooting.stage import Stage
from standclear.web import exports, server
from standclear.web.app import create_app
from standclear.web.gate import CODE_MINUTES, Gate
from standclear.web.trust import Trust

FINISH_CAPTURE_S = 30.0
EXPORTS_FOLDER = "exports"


@dataclass(frozen=True, slots=True)
class Addresses:
    """Where the service listens, and the address that a phone can reach."""

    listening: str
    phone: str


def addresses(host: str, port: int, *, secure: bool = False) -> Addresses:
    """The addresses to print. A wildcard is shown as this machine's address on its network.

    With ``secure`` the phone's address is the plain one all the same: there a phone that does not
    trust this computer yet is told how to, and any other is sent on.
    """
    everywhere = host in ("", "0.0.0.0", "::")
    shown = outward_address() if everywhere else host
    bracketed = f"[{shown}]" if ":" in shown else shown
    listening = "127.0.0.1" if everywhere else bracketed
    scheme = "https" if secure else "http"
    return Addresses(f"{scheme}://{listening}:{port}", f"http://{bracketed}:{port}")


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
    handsets = HandsetLinks()
    kinds = {**KINDS, "handset": Kind(handsets.camera, handsets.present)}
    camera = camera_from_id(settings.camera, kinds)
    clock = SystemClock()
    certificates = certificates_of(settings, clock)
    library = Library.open(settings.library, clock)
    try:
        listener = server.listen(settings.host, settings.port)
    except OSError:
        library.close()
        raise
    stage = stage_of(settings, camera, kinds, library, clock)
    handsets.on_facts = lambda link: handset_says(stage, link)
    gate = Gate(library, clock)
    desk = desk_of(settings, stage, clock)
    mirroring = second_copy(settings, stage)
    service = create_app(
        stage,
        gate,
        desk,
        attached=lambda: attached(kinds),
        names=settings.names,
        mirroring=mirroring,
        handsets=handsets,
        authority=None if certificates is None else trust_in(certificates),
    )
    found = addresses(settings.host, listener.getsockname()[1], secure=settings.secure)

    def ready() -> None:
        click.echo(f"listening on {found.listening}")
        welcome(found, gate.new_code())
        if certificates is not None:
            click.echo(f"certificate fingerprint: {certificates.authority.fingerprint}")
        threading.Thread(
            target=renew_on_key, args=(found, gate.new_code), name="keys", daemon=True
        ).start()

    def farewell() -> None:
        stage.shutter.wait_idle(FINISH_CAPTURE_S)
        service.viewers.close_all()
        stage.farewell(FINISH_CAPTURE_S)
        if mirroring is not None:
            mirroring.stop()

    tls = None if certificates is None else certificates.context
    server.serve(service.app, listener, ready=ready, farewell=farewell, tls=tls)
    desk.close()
    library.close()
    leave()


def certificates_of(settings: ServeSettings, clock: Clock) -> Certificates | None:
    """The certificates of ``--secure``, looked after from now on; ``None`` for plain HTTP."""
    if not settings.secure:
        return None
    made = Certificates(settings.certificates, lambda: own_names(settings.names), clock)
    made.start()
    return made


def trust_in(certificates: Certificates) -> Trust:
    """What a phone needs to trust this computer."""
    return Trust(certificates.authority.pem, certificates.authority.fingerprint)


def handset_says(stage: Stage, link: HandsetLink) -> None:
    """What a handset tells of itself reaches every remote."""
    camera = HandsetCamera(link)
    stage.camera_says(camera.identity.id, camera.status())


def stage_of(
    settings: ServeSettings,
    camera: Camera,
    kinds: Mapping[str, Kind],
    library: Library,
    clock: Clock,
) -> Stage:
    """The set at work, its camera made already: an id that cannot be was told before."""
    return Stage(
        library=library,
        clock=clock,
        make_camera=lambda camera_id: (
            camera if camera_id == settings.camera else camera_from_id(camera_id, kinds)
        ),
        camera=settings.camera,
    )


def desk_of(settings: ServeSettings, stage: Stage, clock: Clock) -> ExportDesk:
    """The export desk, which rests while a picture is being taken."""
    return ExportDesk(
        settings.library / EXPORTS_FOLDER,
        clock,
        may_run=stage.shutter.is_idle,
        on_change=lambda job: stage.events.publish("export", exports.as_json(job)),
    )


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
