"""From settings to a running service: open the library, take up the camera, serve, leave."""

import logging
import os
import sys
import threading
from collections.abc import Mapping
from dataclasses import dataclass

from standclear.cameras.base import Camera
from standclear.cameras.handset import HandsetCamera, HandsetLink, HandsetLinks
from standclear.cameras.kinds import KINDS, Kind, attached, camera_from_id
from standclear.clock import Clock, SystemClock
from standclear.finishing.jobs import ExportDesk
from standclear.library.library import Library
from standclear.library.mirror.address import must_be_apart, parse
from standclear.library.mirror.mirror import Mirror
from standclear.library.mirror.place import place_at
from standclear.memory import hold_little
from standclear.nearby.door import Addresses, Door
from standclear.secure.keeper import Certificates
from standclear.secure.names import own_names
from standclear.settings import ServeSettings
from standclear.shooting.mirroring import Mirroring
from standclear.shooting.stage import Stage
from standclear.web import exports, server
from standclear.web.app import Service, create_app
from standclear.web.gate import CODE_MINUTES, Gate
from standclear.web.trust import Trust

FINISH_CAPTURE_S = 30.0
EXPORTS_FOLDER = "exports"


@dataclass(frozen=True, slots=True)
class House:
    """Everything that is open while the service runs."""

    stage: Stage
    gate: Gate
    desk: ExportDesk
    mirroring: Mirroring | None
    certificates: Certificates | None
    service: Service

    def farewell(self) -> None:
        """Finish the picture in progress, then let viewers and listeners go."""
        self.stage.shutter.wait_idle(FINISH_CAPTURE_S)
        self.service.viewers.close_all()
        self.stage.farewell(FINISH_CAPTURE_S)
        if self.mirroring is not None:
            self.mirroring.stop()


def run(settings: ServeSettings, *, as_json: bool = False) -> None:
    """Serve until told to stop; with ``as_json`` what is printed are JSON objects, one a line.

    Raises StandclearError or OSError when it cannot start.
    """
    hold_little()
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
    house = house_of(settings, stage, handsets, kinds, certificates)
    door = door_of(settings, listener.getsockname()[1], house, as_json=as_json)

    def ready() -> None:
        door.open()
        threading.Thread(target=renew_on_key, args=(door,), name="keys", daemon=True).start()

    tls = None if certificates is None else certificates.context
    server.serve(house.service.app, listener, ready=ready, farewell=house.farewell, tls=tls)
    door.close()
    house.desk.close()
    library.close()
    leave()


def house_of(
    settings: ServeSettings,
    stage: Stage,
    handsets: HandsetLinks,
    kinds: Mapping[str, Kind],
    certificates: Certificates | None,
) -> House:
    """The application and what it works with, over the set."""
    handsets.on_facts = lambda link: handset_says(stage, link)
    gate = Gate(stage.library, stage.clock)
    desk = desk_of(settings, stage, stage.clock)
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
    return House(stage, gate, desk, mirroring, certificates, service)


def door_of(settings: ServeSettings, port: int, house: House, *, as_json: bool) -> Door:
    """Address, code and QR on the host's screen, and the announcement by name."""

    def moved(found: Addresses) -> None:
        says = f"The computer has another address now: {found.phone}. Its screen shows a new code."
        house.stage.events.publish("address", {"phone": found.phone, "says": says})

    certificates = house.certificates
    return Door(
        settings.host,
        port,
        secure=settings.secure,
        announce=not settings.unannounced,
        new_code=house.gate.new_code,
        code_minutes=CODE_MINUTES,
        moved=moved,
        fingerprint=certificates.authority.fingerprint if certificates else "",
        as_json=as_json,
    )


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
    stage = Stage(
        library=library,
        clock=clock,
        make_camera=lambda camera_id: (
            camera if camera_id == settings.camera else camera_from_id(camera_id, kinds)
        ),
        camera=settings.camera,
    )
    if settings.second:
        stage.use_second(settings.second)
    return stage


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


def renew_on_key(door: Door) -> None:
    """A press of Enter on the host shows a fresh code."""
    if not sys.stdin or not sys.stdin.isatty():
        return
    for _line in sys.stdin:
        door.renew()


def leave() -> None:
    """End at once. Everything is closed by now; what is left are threads that wait in recv() for
    clients that will never speak, and Python would wait for them."""
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(0)
