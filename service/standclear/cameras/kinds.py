"""The table of camera kinds, and which cameras could be used now.

An id is the kind, or the kind and a colon and what its driver needs to know: ``rehearsal:seed=3``,
``webcam:0``, ``tethered:usb:001,004``. Drivers are imported as they are asked for, since each
brings a library of its own.
"""

import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from importlib import import_module
from operator import attrgetter
from pathlib import Path
from typing import cast

from standclear.cameras.base import Camera, CameraAway, Identity, NotOffered

_VIDEO_DEVICES = Path("/sys/class/video4linux")


def _none_seen() -> Sequence[Identity]:
    return ()


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of camera: ``make`` takes the part of the id after the colon (empty without one);
    ``attached`` lists those that could be used now, without opening any."""

    make: Callable[[str], Camera]
    attached: Callable[[], Sequence[Identity]] = _none_seen


def _driver(module: str, maker: str) -> Callable[[str], Camera]:
    """What makes a camera of the driver in that module, which is imported with its first camera."""

    def make(rest: str) -> Camera:
        return cast(Camera, attrgetter(maker)(import_module(module))(rest))

    return make


def camera_from_id(camera_id: str, kinds: Mapping[str, Kind] | None = None) -> Camera:
    """The camera of that id, not yet open.

    Raises NotOffered for a kind that does not exist, or for what its driver cannot take.
    """
    kind, _, rest = camera_id.partition(":")
    kinds = KINDS if kinds is None else kinds
    found = kinds.get(kind)
    if found is None:
        raise NotOffered(f"There is no camera kind {kind!r}. The kinds are: {', '.join(kinds)}.")
    return found.make(rest)


def attached(kinds: Mapping[str, Kind] | None = None) -> list[Identity]:
    """The cameras that could be used now: on a cable, video devices, and the rehearsal set.

    Looks at what is plugged in without opening any of it; a device may still be taken by another
    program. Network cameras and files are not among them: they are named by the one who has them.
    """
    return [identity for kind in (kinds or KINDS).values() for identity in kind.attached()]


def _attached_rehearsal() -> list[Identity]:
    return [Identity("rehearsal", "rehearsal", "Rehearsal set (simulated, no hardware)")]


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


#: Every kind that ``--camera`` takes, in the order of listing; a new driver is one line.
KINDS: Mapping[str, Kind] = {
    "tethered": Kind(_driver("standclear.cameras.tethered", "TetheredCamera"), _attached_tethered),
    "webcam": Kind(
        _driver("standclear.cameras.webcam", "WebcamCamera.from_source"), _attached_webcams
    ),
    "handset": Kind(_driver("standclear.cameras.handset", "HandsetCamera.alone")),
    "rehearsal": Kind(
        _driver("standclear.cameras.rehearsal", "RehearsalCamera.from_orders"), _attached_rehearsal
    ),
}
