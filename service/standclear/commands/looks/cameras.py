"""Cameras: what is attached, who has grabbed it, who may use it."""

import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from pathlib import Path

from standclear.cameras.base import Identity
from standclear.commands.looks.finding import Finding

USB, PROCESSES = Path("/sys/bus/usb/devices"), Path("/proc")
STILL_IMAGING = "06"  # USB class codes, base class 06h (usb.org, Defined Class Codes)
MONITOR = "gvfs-gphoto2"
_SWITCH_OFF = (
    "eject the camera in the file manager, or switch it off for good: "
    "systemctl --user mask --now gvfs-gphoto2-volume-monitor"
)


def cameras(attached: Callable[[], Sequence[Identity]]) -> Iterator[Finding]:
    """What could be used as a camera now."""
    found = [one for one in attached() if one.kind not in ("rehearsal", "handset")]
    if found:
        yield Finding("cameras", "well", ", ".join(f"{one.label} ({one.id})" for one in found))
    else:
        says = (
            "No camera found: check cable and power, and that it is set to be used by a computer. "
            "The rehearsal set works without one."
        )
        yield Finding("cameras", "warning", says)


def rights(usb: Path = USB, devices: Path = Path("/dev/bus/usb")) -> Iterator[Finding]:
    """Whether we may use the still cameras on the cable, and who has grabbed them."""
    nodes = list(_still_cameras(usb, devices))
    for label, node in nodes:
        if not os.access(node, os.R_OK | os.W_OK):
            says = (
                f"{label} may not be used by this account. Copy deploy/60-standclear-camera.rules "
                "to /etc/udev/rules.d, run `sudo udevadm control --reload`, plug it in again."
            )
            yield Finding("camera rights", "fault", says)
    if nodes and all(os.access(node, os.R_OK | os.W_OK) for _, node in nodes):
        yield Finding("camera rights", "well", "The cameras on the cable may be used.")


def grabbed(
    usb: Path = USB, devices: Path = Path("/dev/bus/usb"), processes: Path = PROCESSES
) -> Iterator[Finding]:
    """Other programs that hold a camera, or are known to grab one as soon as it is there."""
    nodes = {node: label for label, node in _still_cameras(usb, devices)}
    holders = list(_holders(set(nodes), processes))
    for node, process, name in holders:
        what = _SWITCH_OFF if name.startswith(MONITOR) else f"end it (process {process})"
        says = f"{nodes[node]} is held by {name}: {what}."
        yield Finding("other programs", "fault", says)
    if holders:
        return
    if any(name.startswith(MONITOR) for _, name in _running(processes)):
        says = f"The desktop's volume monitor is running and may grab a camera: {_SWITCH_OFF}."
        yield Finding("other programs", "warning", says)
    else:
        yield Finding("other programs", "well", "No other program is known to grab cameras here.")


def _still_cameras(usb: Path, devices: Path) -> Iterator[tuple[str, Path]]:
    """Label and device node of each USB device with a still imaging interface."""
    for interface in sorted(usb.glob("*:*")):
        if _read(interface / "bInterfaceClass") != STILL_IMAGING:
            continue
        device = usb / interface.name.partition(":")[0]
        bus, number = _read(device / "busnum"), _read(device / "devnum")
        if bus.isdigit() and number.isdigit():
            label = _read(device / "product") or "The camera"
            yield label, devices / f"{int(bus):03d}" / f"{int(number):03d}"


def _holders(nodes: set[Path], processes: Path) -> Iterator[tuple[Path, int, str]]:
    """Processes other than ours that have one of the nodes open, as far as we may look."""
    for process, name in _running(processes):
        if process == os.getpid():
            continue
        with suppress(OSError):
            for descriptor in (processes / str(process) / "fd").iterdir():
                with suppress(OSError):
                    target = descriptor.readlink()
                    if target in nodes:
                        yield target, process, name
                        break


def _running(processes: Path) -> Iterator[tuple[int, str]]:
    for path in processes.glob("[0-9]*/comm"):
        name = _read(path)
        if name:  # else it has ended meanwhile
            yield int(path.parent.name), name


def _read(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8", errors="replace").strip()
    except OSError:
        return ""
