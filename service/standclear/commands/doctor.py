"""`standclear doctor`: what is wrong on this machine, and what to do about it."""

import json
import sys
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path

import click

from standclear.clock import SystemClock
from standclear.commands.looks.finding import Finding, Look
from standclear.commands.manual import JSON, manual
from standclear.settings import ServeSettings, options_of


@click.command(
    "doctor",
    **manual(
        ("standclear doctor", "before the first shot, and when something does not work"),
        ("standclear doctor --json", "for a program that looks after this machine"),
        ends={1: "there is a fault"},
    ),
)
@options_of(ServeSettings, "library", "port", "mirror", "secure", "certificates")
@JSON
def command(
    *, library: Path, port: int, mirror: str, secure: bool, certificates: Path, as_json: bool
) -> None:
    """Say what is wrong on this machine and what to do. Ends with 1 when there is a fault.

    Looks at the library's folder and database, room and speed of its disk, the clock, the port,
    the network, the certificate, the second copy, the cameras, who may use them and who has
    grabbed them. Takes the settings that `standclear serve` is to be started with.
    """
    findings = list(examine(library, port, mirror, certificates, secure=secure))
    if as_json:
        click.echo(json.dumps([asdict(one) for one in findings], indent=2))
    else:
        for one in findings:
            click.echo(f"{one.state:8} {one.about}: {one.says}")
    sys.exit(1 if any(one.state == "fault" for one in findings) else 0)


def examine(
    library: Path, port: int, mirror: str, certificates: Path, *, secure: bool
) -> Iterator[Finding]:
    """All findings, in the order in which a person would mend them."""
    from standclear.cameras.kinds import attached
    from standclear.commands.looks import cameras, copy, disk, network, time
    from standclear.nearby.interfaces import outward_address

    clock = SystemClock()
    looks: tuple[Look, ...] = (
        lambda: disk.folder(library),
        lambda: disk.database(library),
        lambda: disk.room(library),
        lambda: disk.speed(library),
        lambda: time.clock(library, clock),
        lambda: network.port(port),
        lambda: network.address(outward_address() or "127.0.0.1"),
        lambda: network.certificate(certificates, clock, secure=secure),
        lambda: copy.second_copy(library, mirror),
        cameras.grabbed,
        cameras.rights,
        lambda: cameras.cameras(attached),
    )
    for look in looks:
        yield from look()
