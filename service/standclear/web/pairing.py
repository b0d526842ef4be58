"""`/pairing`: trade the code on the host's screen for a session cookie; leave again."""

from typing import Any, Literal

from apiflask import APIBlueprint
from flask import Response, g, request
from pydantic import Field

from standclear.errors import CallerError
from standclear.shooting.describe import API
from standclear.web.context import context
from standclear.web.gate import Gate
from standclear.web.guard import Unpaired
from standclear.web.models import In, Out

COOKIE = "standclear"
FOR_CAMERAS = (f"{API}/handset", f"{API}/pairing", f"{API}/health")


class PairingIn(In):
    """The code from the host's screen, and what to call this device."""

    code: str = Field(min_length=1, max_length=32, description="Six digits; spaces are ignored.")
    name: str = Field(default="", max_length=80)
    kind: Literal["remote", "camera"] = Field(
        default="remote", description="A camera may do what the page /handset needs, no more."
    )


class PairingOut(Out):
    """Whether this device is paired, and as what."""

    paired: bool
    name: str
    kind: str


class CameraOnly(CallerError):
    """A device that was paired as a camera asks for something else."""

    code = "camera_only"
    status = 403
    title = "This device is paired as a camera only"
    hint = "Pair it again, as a remote, with a fresh code."


def session_token() -> str | None:
    """The token of this request: bearer first, else the cookie."""
    authorization = request.headers.get("Authorization", "")
    scheme, _, token = authorization.partition(" ")
    if scheme.lower() == "bearer" and token:
        return token.strip()
    return request.cookies.get(COOKIE)


def is_let_in(gate: Gate) -> bool:
    """Whether this request comes from a paired device. Raises :class:`CameraOnly`."""
    token = session_token()
    if gate.name_of(token) is None:
        return False
    if gate.kind_of(token) == "camera" and not request.path.startswith(FOR_CAMERAS):
        raise CameraOnly("A camera may not ask for this.")
    return True


pages = APIBlueprint("pairing", __name__, tag="pairing")


@pages.post("/pairing")
@pages.input(PairingIn, arg_name="body")
@pages.output(PairingOut, status_code=201)
def pair(body: PairingIn) -> Any:
    """Pair this device with the code on the host's screen."""
    token = context().gate.pair(body.code, body.name, body.kind)
    g.new_session = token
    return {"paired": True, "name": body.name, "kind": body.kind}


@pages.after_request
def hand_out_cookie(response: Response) -> Response:
    token = g.pop("new_session", None)
    if token is not None:
        response.set_cookie(
            COOKIE,
            token,
            max_age=context().gate.SESSION_DAYS * 86400,
            httponly=True,
            samesite="Strict",
            secure=request.is_secure,
        )
    return response


@pages.get("/pairing")
@pages.output(PairingOut)
def paired() -> Any:
    """Whether this device is paired."""
    name = context().gate.name_of(session_token())
    if name is None:
        raise Unpaired("Pair this device first.")
    kind = context().gate.kind_of(session_token())
    return {"paired": True, "name": name, "kind": kind}


@pages.delete("/pairing")
@pages.output({}, status_code=204)
def leave() -> Any:
    """Forget this device."""
    context().gate.leave(session_token())
    g.new_session = None
    response = Response(status=204)
    response.delete_cookie(COOKIE, httponly=True, samesite="Strict", secure=request.is_secure)
    return response
