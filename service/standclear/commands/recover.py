"""`standclear recover`: rebuild the library's database from the originals and their journals."""

import json
import sys
from dataclasses import asdict
from pathlib import Path

import click

from standclear.clock import SystemClock
from standclear.commands.manual import JSON, manual
from standclear.settings import ServeSettings, options_of

TELLS = {
    "appended": "put at the end of its shot: the journal does not know it",
    "altered": "is not as it was kept",
    "missing": "is in the journal, but not on the disk",
}


@click.command(
    "recover",
    **manual(
        ("standclear recover", "after the database was lost or damaged"),
        ("standclear recover --mirror /mnt/second --library ~/Standclear", "after the disk was"),
    ),
)
@options_of(ServeSettings, "library", "mirror")
@JSON
def command(library: Path, mirror: str, as_json: bool) -> None:
    """Rebuild the library from its originals alone.

    Order, holds, notes, rates, plans and verdicts come back. What was there is moved aside, nothing
    is deleted. Undo steps, paired remotes and settings are lost. Where --library is empty or not
    there, --mirror says where the second copy lies that it is to be made from.
    """
    from standclear.library.library import SHOTS_FOLDER
    from standclear.library.recover import recover

    if mirror and not (library / SHOTS_FOLDER).is_dir():
        _fetch(mirror, library)

    with click.progressbar(length=1, label="shots", file=sys.stderr) as bar:

        def progress(done: int, everything: int) -> None:
            bar.length = everything
            bar.update(done - bar.pos)

        report = recover(library, SystemClock(), progress)
    if as_json:
        click.echo(json.dumps(asdict(report), indent=2, default=str))
        return
    click.echo(f"{report.shots} shots, {report.exposures} exposures, {report.originals} originals")
    for name, says in TELLS.items():
        for item in getattr(report, name):
            click.echo(f"  {item}: {says}")
    if report.moved_aside is not None:
        click.echo(f"The old database lies at {report.moved_aside}.")


def _fetch(mirror: str, library: Path) -> None:
    from standclear.library.mirror.address import parse
    from standclear.library.mirror.fetch import fetch
    from standclear.library.mirror.place import place_at

    with click.progressbar(length=1, label="files", file=sys.stderr) as bar:

        def progress(done: int, everything: int) -> None:
            bar.length = everything
            bar.update(done - bar.pos)

        fetch(place_at(parse(mirror)), library, progress)
