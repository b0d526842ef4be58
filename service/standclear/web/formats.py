"""`/formats`: what can be made of a shot, in words."""

from typing import Any

from apiflask import APIBlueprint

from standclear.finishing.formats import FORMATS, output_of
from standclear.web.models import Out


class FormatOut(Out):
    """One format of the exports; ``extension`` ends the file's name."""

    id: str
    label: str
    says: str
    extension: str
    media_type: str


class FormatsOut(Out):
    """All formats, in the order in which they are offered."""

    items: list[FormatOut]
    next: str | None


pages = APIBlueprint("formats", __name__, tag="formats")


@pages.get("/formats")
@pages.output(FormatsOut)
def list_formats() -> Any:
    """What can be made of a shot."""
    return {"items": [_as_json(name) for name in FORMATS], "next": None}


def _as_json(name: str) -> dict[str, str]:
    output = output_of(name)
    return {
        "id": name,
        "label": output.label,
        "says": output.says,
        "extension": output.extension,
        "media_type": output.media_type,
    }
