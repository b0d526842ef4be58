"""The command line: serve, rehearse, pair, token and the chores around a library."""

import json
import sys
from pathlib import Path
from typing import Any

import click
from pydantic import ValidationError

from standclear import __version__
from standclear.clock import SystemClock
from standclear.commands import check, completion, doctor, export, recover
from standclear.commands.manual import JSON, manual
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
        except ValidationError as error:
            first = error.errors()[0]
            name = "-".join(str(part) for part in first["loc"])
            raise click.BadParameter(first["msg"], param_hint=f"--{name}") from error
        except OSError as error:
            raise click.ClickException(
                f"{error.strerror or error}: {error.filename or ''}\n"
                "`standclear doctor` looks for what is wrong on this machine."
            ) from error


@click.group(
    cls=Group,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    **manual(
        ("standclear rehearse", "try it: a simulated table, no camera needed"),
        ("standclear serve --camera tethered", "shoot with the camera on the cable"),
        ("standclear doctor", "find out why it does not work"),
    ),
)
@click.version_option(__version__, prog_name="standclear")
def main() -> None:
    """Stand clear: the frame is taken.

    A capture service for animators who move things on a table, frame by frame, with a phone as its
    remote. Every option can also be set in the environment, as STANDCLEAR_OPTION. Each command
    prints JSON for programs with --json. Start with `standclear rehearse`.
    """


@main.command(
    **manual(
        ("standclear serve", "the first camera found on a cable"),
        ("standclear serve --camera webcam:0 --host 127.0.0.1", "a webcam, this machine only"),
        ("standclear serve --port 0 --json", "any free port; address and code as lines of JSON"),
    )
)
@options_of(ServeSettings)
@JSON
def serve(as_json: bool, **values: Any) -> None:
    """Own the camera and serve the phone page, until Ctrl-C.

    Prints the address, a pairing code and a QR code to open on the phone.
    """
    from standclear.serving import run

    run(ServeSettings(**values), as_json=as_json)


@main.command(
    **manual(
        ("standclear rehearse", "a cork on a table, which plays for you"),
        ("standclear rehearse --orders seed=3,nudge=7", "the tripod is nudged at exposure 7"),
    )
)
@options_of(ServeSettings, "library", "host", "port", "name", "secure", "certificates")
@click.option("--orders", default="", help="What the rehearsal set is to do: seed=3,nudge=7.")
@JSON
def rehearse(orders: str, as_json: bool, **values: Any) -> None:
    """Serve the rehearsal set: a simulated table, no camera needed."""
    from standclear.serving import run

    camera = f"rehearsal:{orders}" if orders else "rehearsal"
    run(ServeSettings(camera=camera, **values), as_json=as_json)


@main.command(**manual(("standclear pair", "let one more phone in while the service runs")))
@LIBRARY
@JSON
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


@main.command(
    **manual(
        ("TOKEN=$(standclear token)", "keep one for a script"),
        ("standclear token --name nightly", "under a name by which it can be told apart"),
    )
)
@LIBRARY
@click.option("--name", default="script", show_default=True, help="What to call it.")
@JSON
def token(library: Path, name: str, as_json: bool) -> None:
    """Print a token for scripts, sent as `Authorization: Bearer TOKEN`."""
    from standclear.library.desk import Desk
    from standclear.web.gate import Gate

    with Desk.open(library, SystemClock()) as desk:
        made = Gate(desk, SystemClock()).new_token(name)
    click.echo(json.dumps({"token": made, "name": name}) if as_json else made)


for chore in (check, completion, doctor, export, recover):
    main.add_command(chore.command)

if __name__ == "__main__":
    sys.exit(main(auto_envvar_prefix=PREFIX.rstrip("_")))
