"""The shape of a page of help: what it does, how it is used, what its end means."""

from collections.abc import Mapping, Sequence
from typing import Any

import click

JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON, for a program to read.")

ENDS: Mapping[int, str] = {
    0: "done, and all is well",
    1: "it could not be done; the sentence says why, and what to do",
    2: "the command was typed wrongly",
}


def manual(*examples: tuple[str, str], ends: Mapping[int, str] | None = None) -> dict[str, Any]:
    """What a command is declared with, so that its ``--help`` ends with examples (command and what
    it does) and with what its exit status means."""
    rows = [f"  {line}\n      {says}" for line, says in examples]
    status = [f"  {number}  {says}" for number, says in {**ENDS, **(ends or {})}.items()]
    return {"epilog": _paragraph("Examples:", rows) + "\n\n" + _paragraph("Exit status:", status)}


def _paragraph(head: str, lines: Sequence[str]) -> str:
    """Lines that click leaves as they are."""
    return "\n".join(["\b", head, *lines])
