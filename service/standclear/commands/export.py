"""`standclear export SHOT FILE`: a shot becomes a film, without a service running."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from standclear.clock import SystemClock
from standclear.commands.finding import find_shot
from standclear.commands.manual import JSON, manual
from standclear.errors import Invalid
from standclear.finishing.formats import FORMATS
from standclear.settings import ServeSettings, options_of

if TYPE_CHECKING:
    from standclear.finishing.options import ExportOptions


@click.command(
    "export",
    **manual(
        ('standclear export "cork wakes" cork.mp4', "a film that plays on anything"),
        ('standclear export "cork wakes" --format png', "numbered pictures in a ZIP"),
        ('standclear export "cork wakes" --even --steady', "without flicker, without bumps"),
    ),
)
@click.argument("shot")
@click.argument("target", type=click.Path(path_type=Path), required=False)
@options_of(ServeSettings, "library")
@click.option(
    "--format",
    "format_name",
    default="h264",
    show_default=True,
    type=click.Choice(list(FORMATS)),
    help="What to make.",
)
@click.option("--even/--no-even", default=False, help="Even out the light.")
@click.option("--steady/--no-steady", default=False, help="Undo bumps and creep.")
@click.option("--shape", default="source", show_default=True, help="16:9, 9:16, 4:5, 1:1.")
@click.option("--options", default="{}", help="All other options, as JSON, as the API takes them.")
@click.option("--on", help="Address of a Dask scheduler that shall make the pictures.")
@JSON
def command(
    *,
    shot: str,
    target: Path | None,
    library: Path,
    format_name: str,
    even: bool,
    steady: bool,
    shape: str,
    options: str,
    on: str | None,
    as_json: bool,
) -> None:
    """Make a film of SHOT (a name or id) at TARGET; the originals are not touched."""
    from standclear.finishing.api import export, suggested_name
    from standclear.finishing.filming import film_shot
    from standclear.finishing.report import Progress
    from standclear.library.library import Library

    chosen = _options(options, format_name, shape, even=even, steady=steady)
    with Library.open(library, SystemClock()) as opened:
        film = film_shot(opened, find_shot(opened, shot).id)
        place = target or Path(suggested_name(film, chosen))
        with click.progressbar(length=1, label="frames", file=sys.stderr) as bar:

            def progress(now: Progress) -> None:
                bar.length = max(1, now.frames_total)
                bar.update(now.frames_done - bar.pos)

            report = export(film, chosen, place, progress, on=on)
    if as_json:
        click.echo(json.dumps(report.as_json(), indent=2, default=str))
        return
    click.echo(f"{report.path}: {report.frames} frames, {report.duration_s:.3f} s")
    for note in report.notes:
        click.echo(f"  {note}")


def _options(text: str, format_name: str, shape: str, *, even: bool, steady: bool) -> ExportOptions:
    from pydantic import ValidationError

    from standclear.finishing.options import ExportOptions

    try:
        given = json.loads(text)
        given.setdefault("format", format_name)
        given.setdefault("framing", {"shape": shape})
        if even:
            given.setdefault("light", {})
        if steady:
            given.setdefault("position", {})
        return ExportOptions.model_validate(given)
    except ValidationError as error:
        first = error.errors()[0]
        raise Invalid(f"{'.'.join(map(str, first['loc']))}: {first['msg']}") from error
    except (ValueError, AttributeError) as error:
        raise Invalid(f"--options is no JSON object: {error}") from error
