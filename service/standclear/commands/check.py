"""`standclear check [SHOT]`: are all originals as they were kept, and what do the watches say?

The files are always checked, and those of the second copy where there is one. With a shot, its
verdicts are made anew, with today's thresholds.
"""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from standclear.clock import SystemClock
from standclear.commands.finding import find_shot
from standclear.commands.manual import JSON, manual
from standclear.settings import ServeSettings, options_of

if TYPE_CHECKING:
    from standclear.library.check import CheckReport
    from standclear.library.mirror.check import CopyReport
    from standclear.shooting.recheck import Looked

FAULTS = {
    "altered": "altered since it was kept",
    "missing": "missing",
    "unreadable": "cannot be read",
    "numbering": "its exposures are not counted as they should be",
    "unclaimed": "a whole file that no record claims",
}


@click.command(
    "check",
    **manual(
        ("standclear check", "is every original as it was kept?"),
        ('standclear check "cork wakes"', "and what do the watches say of that shot today?"),
        ends={1: "a file is not as it was kept"},
    ),
)
@click.argument("shot", required=False)
@options_of(ServeSettings, "library", "mirror")
@JSON
def command(shot: str | None, library: Path, mirror: str, as_json: bool) -> None:
    """Check the library's files; with SHOT (a name or id), also look at all of it again.

    With --mirror the files of the second copy are read, too. Ends with 1 when a file, here or
    there, is not as it was kept.
    """
    files = _files(library)
    copy = _copy(library, mirror) if mirror else None
    looked = _verdicts(library, shot) if shot is not None else None
    if as_json:
        click.echo(json.dumps(_as_json(files, copy, looked), indent=2))
    else:
        _print_files(files)
        if copy is not None:
            _print_copy(copy)
        if looked is not None:
            _print_verdicts(looked)
    sys.exit(0 if files.well and (copy is None or copy.well) else 1)


def _files(folder: Path) -> CheckReport:
    from standclear.library.check import check

    with click.progressbar(length=1, label="files", file=sys.stderr) as bar:

        def progress(done: int, everything: int) -> None:
            bar.length = everything
            bar.update(done - bar.pos)

        return check(folder, progress)


def _copy(folder: Path, mirror: str) -> CopyReport:
    from standclear.library.mirror.address import parse
    from standclear.library.mirror.check import check_copy_of
    from standclear.library.mirror.place import place_at

    with click.progressbar(length=1, label="copy", file=sys.stderr) as bar:

        def progress(done: int, everything: int) -> None:
            bar.length = everything
            bar.update(done - bar.pos)

        return check_copy_of(folder, place_at(parse(mirror)), SystemClock(), progress)


def _verdicts(folder: Path, wanted: str) -> list[Looked]:
    from standclear.library.library import Library
    from standclear.shooting.recheck import recheck

    with Library.open(folder, SystemClock()) as library:
        shot = find_shot(library, wanted)
        looking = recheck(library, shot.id)
        length = shot.exposure_count
        with click.progressbar(looking, length, label="verdicts", file=sys.stderr) as bar:
            return list(bar)


def _as_json(
    files: CheckReport, copy: CopyReport | None, looked: list[Looked] | None
) -> dict[str, Any]:
    answer: dict[str, Any] = {"well": files.well, "originals": files.originals, "size": files.size}
    answer |= {name: list(getattr(files, name)) for name in FAULTS}
    if copy is not None:
        answer["copy"] = {"well": copy.well, **asdict(copy)}
    if looked is not None:
        answer["exposures"] = [
            {"exposure": one.exposure, "number": one.number, "verdict": one.verdict}
            for one in looked
        ]
    return answer


def _print_files(files: CheckReport) -> None:
    click.echo(f"{files.originals} originals, {files.size / 1e6:.1f} MB")
    for name, says in FAULTS.items():
        for item in getattr(files, name):
            click.echo(f"  {item}: {says}")
    if files.well:
        click.echo("Every original is as it was kept.")


def _print_copy(copy: CopyReport) -> None:
    click.echo(f"{copy.where}: {copy.originals} copies, {copy.size / 1e6:.1f} MB")
    for name in ("altered", "missing"):
        for item in getattr(copy, name):
            click.echo(f"  {item}: {FAULTS[name]}; a service with this --mirror copies it again")
    if copy.waiting:
        click.echo(f"  {copy.waiting} exposures are not copied yet")
    if copy.well:
        click.echo("Every copy is as the original was kept.")


def _print_verdicts(looked: list[Looked]) -> None:
    flagged = [one for one in looked if one.verdict["state"] == "flagged"]
    for one in flagged:
        for watch in one.verdict["watches"].values():
            if watch["state"] == "flagged":
                click.echo(f"  exposure {one.number}: {watch['says']}")
    click.echo(f"{len(looked)} exposures looked at, {len(flagged)} flagged")
