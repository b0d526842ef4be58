"""The table of camera kinds, and which cameras could be used now.

An id is the kind, or the kind and a colon and what its driver needs to know: ``rehearsal:seed=3``,
``webcam:0``, ``tethered:usb:001,004``. Drivers are imported as they are asked for, since each
brings a library of its own.
"""

import sys
from collections.abc import Callable, Mapping
from pathlib import Path

from standclear.cameras.base import Camera, CameraAway, Identity, NotOffered

_VIDEO_DEVICES = Path("/sys/class/video4linux")


def _tethered(port: str) -> Camera:
    from standclear.cameras.tethered import TetheredCamera  # noqa: PLC0415

    return TetheredCamera(port)


def _webcam(source: str) -> Camera:
    from standclear.cameras.webcam import WebcamCamera  # noqa: PLC0415

    return WebcamCamera.from_source(source)


def _rehearsal(orders: str) -> Camera:
    from standclear.cameras.rehearsal import RehearsalCamera  # noqa: PLC0415

    return RehearsalCamera.from_orders(orders)


#: Kind → what makes one from the part of the id after the colon (empty without a colon).
KINDS: Mapping[str, Callable[[str], Camera]] = {
    "tethered": _tethered,
    "webcam": _webcam,
    "rehearsal": _rehearsal,
}


def camera_from_id(camera_id: str) -> Camera:
    """The camera of that id, not yet open.

    Raises NotOffered for a kind that does not exist, or for what its driver cannot take.
    """
    kind, _, rest = camera_id.partition(":")
    factory = KINDS.get(kind)
    if factory is None:
        raise NotOffered(f"There is no camera kind {kind!r}. The kinds are: {', '.join(KINDS)}.")
    return factory(rest)


def attached() -> list[Identity]:
    """The cameras that could be used now: on a cable, video devices, and the rehearsal set.

    Looks at what is plugged in without opening any of it; a device may still be taken by another
    program. Network cameras and files are not among them: they are named by the one who has them.
    """
    return [*_attached_tethered(), *_attached_webcams(), _REHEARSAL]


_REHEARSAL = Identity("rehearsal", "rehearsal", "Rehearsal set (simulated, no hardware)")


def _attached_tethered() -> list[Identity]:
    """One alone is plain ``tethered``: its port changes each time it is plugged in, that id not."""
    from standclear.cameras.tethered import driver  # noqa: PLC0415

    try:
        found = driver.attached(driver.load_binding())
    except CameraAway:  # no libgphoto2 on this machine
        return []
    if len(found) == 1:
        return [Identity("tethered", "tethered", found[0][1])]
    return [Identity(f"tethered:{port}", "tethered", model) for port, model in found]


def _attached_webcams(devices: Path = _VIDEO_DEVICES) -> list[Identity]:
    """On Linux, the first node of each video device; elsewhere the first webcam, unseen."""
    if not sys.platform.startswith("linux"):
        return [Identity("webcam:0", "webcam", "First webcam")]
    found = []
    for node in devices.glob("video*"):
        if _read(node / "index") not in ("", "0"):  # further nodes carry metadata
            continue
        number = int(node.name.removeprefix("video"))
        found.append((number, _read(node / "name") or node.name))
    return [Identity(f"webcam:{number}", "webcam", name) for number, name in sorted(found)]


def _read(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8", errors="replace").strip()
    except OSError:
        return ""
