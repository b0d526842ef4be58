"""`standclear doctor`: what is wrong on this machine, and what to do about it.

Each look is a function that returns findings; none of them changes anything but the speed test,
which writes one file into the library's folder and removes it.
"""

import json
import os
import shutil
import socket
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Literal

import click

from standclear.settings import ServeSettings, options_of

SPEED_TEST_BYTES = 8_000_000  # a 24-megapixel JPEG
SLOW_S = 0.5
LITTLE_ROOM = 5_000_000_000  # some 600 such pictures
OLDEST_SANE = 1_767_225_600  # 2026-01-01 UTC: a clock before this was never set

State = Literal["well", "warning", "fault"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing looked at, and what to do when it is not well."""

    about: str
    state: State
    says: str


@click.command("doctor")
@options_of(ServeSettings, "library", "port")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(library: Path, port: int, as_json: bool) -> None:
    """Say what is wrong on this machine and what to do. Ends with 1 when there is a fault."""
    findings = list(examine(library, port))
    if as_json:
        click.echo(json.dumps([asdict(one) for one in findings], indent=2))
    else:
        for one in findings:
            click.echo(f"{one.state:8} {one.about}: {one.says}")
    sys.exit(1 if any(one.state == "fault" for one in findings) else 0)


def examine(library: Path, port: int) -> Iterator[Finding]:
    """All findings, in the order in which a person would mend them."""
    looks: tuple[Callable[[], Iterator[Finding]], ...] = (
        lambda: folder(library),
        lambda: room(library),
        lambda: speed(library),
        clock,
        lambda: listening(port),
        cameras,
        volume_monitor,
    )
    for look in looks:
        yield from look()


def folder(library: Path) -> Iterator[Finding]:
    """Whether the library can be written."""
    place = _existing(library)
    if not os.access(place, os.W_OK | os.X_OK):
        yield Finding("library", "fault", f"{place} cannot be written; choose another --library.")
    elif place != library:
        yield Finding("library", "well", f"{library} will be made.")
    else:
        yield Finding("library", "well", f"{library} can be written.")


def room(library: Path) -> Iterator[Finding]:
    """How many pictures fit."""
    free = shutil.disk_usage(_existing(library)).free
    says = f"{free / 1e9:.1f} GB free, some {free // SPEED_TEST_BYTES} pictures of 8 MB."
    yield Finding("room", "well" if free > LITTLE_ROOM else "warning", says)


def speed(library: Path) -> Iterator[Finding]:
    """How long one picture takes to be written and flushed."""
    place = _existing(library)
    try:
        with tempfile.NamedTemporaryFile(dir=place, prefix=".doctor-") as file:
            start = time.monotonic()
            file.write(os.urandom(SPEED_TEST_BYTES))
            file.flush()
            os.fsync(file.fileno())
            took = time.monotonic() - start
    except OSError as error:
        yield Finding("disk", "fault", f"An 8 MB file could not be written: {error.strerror}.")
        return
    says = f"8 MB written and flushed in {took * 1000:.0f} ms."
    if took > SLOW_S:
        says += " That is slow: use a disk inside the machine, and mirror from there."
    yield Finding("disk", "warning" if took > SLOW_S else "well", says)


def clock() -> Iterator[Finding]:
    """Whether the clock was ever set: times of exposures are written down from it."""
    if time.time() < OLDEST_SANE:
        yield Finding("clock", "fault", "The clock is far in the past; set it, or network time.")
    else:
        yield Finding("clock", "well", time.strftime("%Y-%m-%d %H:%M:%S UTC", time.gmtime()))


def listening(port: int) -> Iterator[Finding]:
    """Whether the port is free, or taken."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as sock:
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            sock.bind(("127.0.0.1", port))
        except OSError:
            says = f"Port {port} is taken, perhaps by a service that runs; --port chooses another."
            yield Finding("port", "warning", says)
        else:
            yield Finding("port", "well", f"Port {port} is free.")


def cameras() -> Iterator[Finding]:
    """What could be used as a camera now."""
    from standclear.cameras.kinds import attached

    found = [one for one in attached() if one.kind != "rehearsal"]
    if found:
        yield Finding("cameras", "well", ", ".join(f"{one.label} ({one.id})" for one in found))
    else:
        says = "No camera found: check cable and power. The rehearsal set works without one."
        yield Finding("cameras", "warning", says)


def volume_monitor() -> Iterator[Finding]:
    """The desktop's volume monitor grabs a still camera before anybody else can."""
    for process in Path("/proc").glob("[0-9]*/comm"):
        try:
            name = process.read_text().strip()
        except OSError:
            continue  # it has ended meanwhile
        if name.startswith("gvfs-gphoto2"):
            says = "The desktop's volume monitor is running and may grab the camera; see README."
            yield Finding("volume monitor", "warning", says)
            return
    yield Finding("volume monitor", "well", "No other program is known to grab cameras here.")


def _existing(path: Path) -> Path:
    """The nearest folder that exists."""
    while not path.exists() and path != path.parent:
        path = path.parent
    return path
