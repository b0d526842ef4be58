"""The table of outputs: format → the output that writes it, as ``module:NAME``.

A new output is a file of its own and one line here. Outputs are imported as they are asked for, so
that the names alone (for the options, for ``--help``) cost nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from typing import TYPE_CHECKING, cast

if TYPE_CHECKING:
    from standclear.finishing.output import Output

_FILMS = "standclear.finishing.films"
_PICTURES = "standclear.finishing.numbered"
_LISTS = "standclear.finishing.lists"

FORMATS: Mapping[str, str] = {
    "h264": f"{_FILMS}:H264",
    "hevc": f"{_FILMS}:HEVC",
    "av1": f"{_FILMS}:AV1",
    "prores": f"{_FILMS}:PRORES",
    "webm": f"{_FILMS}:WEBM",
    "webp": f"{_FILMS}:WEBP",
    "gif": f"{_FILMS}:GIF",
    "originals": f"{_PICTURES}:ORIGINALS",
    "png": f"{_PICTURES}:PNG",
    "tiff": f"{_PICTURES}:TIFF",
    "otio": f"{_LISTS}:OTIO",
    "csv": f"{_LISTS}:CSV",
}


def output_of(name: str) -> Output:
    """The output of that format, which must be one of :data:`FORMATS`."""
    module, _, attribute = FORMATS[name].partition(":")
    return cast("Output", getattr(import_module(module), attribute))


def known(name: str) -> str:
    """The name itself; raises ValueError, naming what there is, when it is none of ours."""
    if name not in FORMATS:
        raise ValueError(f"there is no format {name!r}; there are {', '.join(FORMATS)}")
    return name
