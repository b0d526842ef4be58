"""`/cameras`, `/camera`, `/camera/settings`: what is attached, which is in use, its settings."""

import contextlib
from typing import Any

from apiflask import APIBlueprint
from flask import Response, jsonify
from pydantic import Field, RootModel

from standclear.errors import StandclearError
from standclear.shooting import describe
from standclear.web.context import context, stage
from standclear.web.models import In, Out


class AttachedOut(Out):
    """A camera that could be used."""

    id: str
    kind: str
    label: str
    in_use: bool


class CamerasOut(Out):
    """The cameras that could be used."""

    items: list[AttachedOut]
    next: str | None


class CameraOut(Out):
    """The camera in use."""

    id: str
    kind: str
    label: str
    state: str
    says: str
    since: str
    live: bool
    live_says: str
    battery_percent: int | None
    free_pictures: int | None
    free_bytes: int | None
    warnings: list[str]
    second: "SecondOut | None"


class SecondOut(Out):
    """The camera that takes with the one in use."""

    id: str
    kind: str
    label: str
    state: str
    says: str


class CameraIn(In):
    """Which camera to use, as in `--camera`."""

    id: str = Field(min_length=1, max_length=1000)


class SettingsIn(RootModel[dict[str, str]]):
    """Values by setting name."""


pages = APIBlueprint("camera", __name__, tag="camera")


def described() -> dict[str, Any]:
    """Both cameras as they are now."""
    first = describe.camera(stage().camera(), stage().camera_status())
    return {**first, "second": describe.second_camera(stage().second.state())}


@pages.get("/cameras")
@pages.output(CamerasOut)
def cameras() -> Any:
    """What is attached and could be used."""
    present = stage().camera().identity
    found = {one.id: one for one in context().attached()}
    found[present.id] = present
    items = [
        {"id": one.id, "kind": one.kind, "label": one.label, "in_use": one.id == present.id}
        for one in found.values()
    ]
    return {"items": items, "next": None}


@pages.get("/camera")
@pages.output(CameraOut)
def camera() -> Any:
    """The camera in use and its state, and the second one's; never waits for either."""
    return described()


@pages.put("/camera")
@pages.input(CameraIn, arg_name="body")
@pages.output(CameraOut)
def use_camera(body: CameraIn) -> Any:
    """Use another camera."""
    stage().use_camera(body.id)
    return described()


@pages.put("/camera/second")
@pages.input(CameraIn, arg_name="body")
@pages.output(CameraOut)
def use_second(body: CameraIn) -> Any:
    """Let another camera take a picture with every press, too."""
    stage().use_second(body.id)
    return described()


@pages.delete("/camera/second")
@pages.output({}, status_code=204)
def leave_second() -> Any:
    """Go on with one camera."""
    stage().use_second(None)
    return Response(status=204)


@pages.get("/camera/settings")
@pages.doc(responses={200: "Settings by name."})
def settings() -> Any:
    """The settings as the camera offers them; also reads battery and free space."""
    items = stage().settings()
    with contextlib.suppress(StandclearError):  # what it cannot say of itself stays unknown
        stage().refresh_status()
    return jsonify(describe.settings(items))


@pages.patch("/camera/settings")
@pages.input(SettingsIn, arg_name="body")
@pages.doc(responses={200: "Settings by name."})
def change_settings(body: SettingsIn) -> Any:
    """Set values by name."""
    items = stage().change_settings(body.root)
    answer = describe.settings(items)
    stage().events.publish("settings", answer)
    return jsonify(answer)
