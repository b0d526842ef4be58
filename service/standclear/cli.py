"""The command line: serve, rehearse, pair, token and the chores around a library."""

import json
import sys
from pathlib import Path
from typing import Any

import click

from standclear import __version__
from standclear.clock import SystemClock
from standclear.commands import check, doctor, export, recover
from standclear.errors import StandclearError
from standclear.settings import PREFIX, ServeSettings, options_of

LIBRARY = options_of(ServeSettings, "library")


class Group(click.Group):
    """Prints our errors as a sentence and a hint, not as a traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except StandclearError as error:
            raise click.ClickException(f"{error.detail}\n{error.hint}") from error
        except OSError as error:
            raise click.ClickException(
                f"{error.strerror or error}: {error.filename or ''}"
            ) from error


@click.group(cls=Group, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="standclear")
def main() -> None:
    """Stand clear: the frame is taken.

    A capture service for animators who move things on a table, frame by frame, with a phone as its
    remote. Start with `standclear rehearse`.
    """


@main.command()
@options_of(ServeSettings)
def serve(**values: Any) -> None:
    """Own the camera and serve the phone page."""
    from standclear.serving import run

    run(ServeSettings(**values))


@main.command()
@options_of(ServeSettings, "library", "host", "port", "name")
@click.option("--orders", default="", help="What the rehearsal set is to do: seed=3,nudge=7.")
def rehearse(orders: str, **values: Any) -> None:
    """Serve the rehearsal set: a simulated table, no camera needed."""
    from standclear.serving import run

    camera = f"rehearsal:{orders}" if orders else "rehearsal"
    run(ServeSettings(camera=camera, **values))


@main.command()
@LIBRARY
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def pair(library: Path, as_json: bool) -> None:
    """Show a fresh pairing code for the service on this library."""
    from standclear.library.desk import Desk
    from standclear.web.gate import CODE_MINUTES, Gate

    with Desk.open(library, SystemClock()) as desk:
        code = Gate(desk, SystemClock()).new_code()
    if as_json:
        click.echo(json.dumps({"code": code, "minutes": CODE_MINUTES}))
    else:
        click.echo(f"pairing code: {code[:3]} {code[3:]}")


@main.command()
@LIBRARY
@click.option("--name", default="script", show_default=True, help="What to call it.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def token(library: Path, name: str, as_json: bool) -> None:
    """Print a token for scripts: Authorization: Bearer TOKEN."""
    from standclear.library.desk import Desk
    from standclear.web.gate import Gate

    with Desk.open(library, SystemClock()) as desk:
        made = Gate(desk, SystemClock()).new_token(name)
    click.echo(json.dumps({"token": made, "name": name}) if as_json else made)


for chore in (check, doctor, export, recover):
    main.add_command(chore.command)

if __name__ == "__main__":
    sys.exit(main(auto_envvar_prefix=PREFIX.rstrip("_")))
