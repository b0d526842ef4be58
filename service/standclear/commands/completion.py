"""`standclear completion SHELL`: the script that makes the shell complete commands and options."""

import json

import click
from click.shell_completion import get_completion_class

from standclear.commands.manual import JSON, manual
from standclear.errors import Invalid

SHELLS = ("bash", "zsh", "fish")
VARIABLE = "_STANDCLEAR_COMPLETE"


@click.command(
    "completion",
    **manual(
        ("standclear completion bash >> ~/.bashrc", "complete in every new shell"),
        ('eval "$(standclear completion zsh)"', "complete in this shell"),
        (
            "standclear completion fish > ~/.config/fish/completions/standclear.fish",
            "complete in fish",
        ),
    ),
)
@click.argument("shell", type=click.Choice(SHELLS))
@JSON
@click.pass_context
def command(ctx: click.Context, shell: str, as_json: bool) -> None:
    """Print the script that completes commands, options and formats in SHELL."""
    maker = get_completion_class(shell)
    if maker is None:
        raise Invalid(f"There is no completion for {shell}.")
    script = maker(ctx.find_root().command, {}, "standclear", VARIABLE).source()
    click.echo(json.dumps({"shell": shell, "script": script}) if as_json else script)
