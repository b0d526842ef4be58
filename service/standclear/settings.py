"""The settings of the service: each stands here once, with name, default and help.

The command line (``--name``), the environment (``STANDCLEAR_NAME``) and the documentation are
derived from this table.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
from pydantic import BaseModel, ConfigDict, Field

PREFIX = "STANDCLEAR_"


class ServeSettings(BaseModel):
    """What `standclear serve` takes."""

    model_config = ConfigDict(frozen=True)

    library: Path = Field(
        default=Path.home() / "Standclear",
        description="The folder that holds all shots; made if it is not there.",
    )
    camera: str = Field(
        default="tethered",
        description="rehearsal, webcam:0, webcam:/path/or/address, tethered, tethered:PORT.",
    )
    second: str = Field(
        default="",
        description="A second camera that takes with the first: another angle, or a stereo pair.",
    )
    host: str = Field(
        default="0.0.0.0",
        description="The address to listen on; 127.0.0.1 keeps it on this machine.",
    )
    port: int = Field(default=8422, ge=0, le=65535, description="The port; 0 picks a free one.")
    name: str = Field(
        default="", description="Further host names that this service goes by, comma separated."
    )

    mirror: str = Field(
        default="",
        description="The second copy: a folder on another disk, sftp://user@host/folder, "
        "s3://bucket/folder.",
    )

    secure: bool = Field(
        default=False,
        description="Serve HTTPS, with certificates of this computer's own authority.",
    )
    certificates: Path = Field(
        default=Path.home() / ".config" / "standclear",
        description="The folder of the authority and its keys, for its owner alone.",
    )

    unannounced: bool = Field(
        default=False, description="Do not announce the service by name on the local network."
    )

    @property
    def names(self) -> tuple[str, ...]:
        """The further host names, apart."""
        return tuple(part.strip() for part in self.name.split(",") if part.strip())


def options_of(model: type[BaseModel], *only: str) -> Callable[[Any], Any]:
    """Click options for a settings model, with their environment twins."""

    def decorate(command: Any) -> Any:
        for name, field in reversed(model.model_fields.items()):
            if only and name not in only:
                continue
            switch = field.annotation is bool
            command = click.option(
                f"--{name.replace('_', '-')}",
                name,
                is_flag=switch,
                default=field.default,
                envvar=PREFIX + name.upper(),
                show_default=True,
                show_envvar=True,
                type=_click_type(field.annotation),
                help=field.description,
            )(command)
        return command

    return decorate


def _click_type(annotation: Any) -> Any:
    if annotation is Path:
        return click.Path(path_type=Path, file_okay=False)
    return annotation
