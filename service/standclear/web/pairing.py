"""`/pairing`: trade the code on the host's screen for a session cookie; leave again."""

from typing import Any

from apiflask import APIBlueprint
from flask import Response, g, request
from pydantic import Field

from standclear.web.context import context
from standclear.web.guard import Unpaired
from standclear.web.models import In, Out

COOKIE = "standclear"


class PairingIn(In):
    """The code from the host's screen, and what to call this device."""

    code: str = Field(min_length=1, max_length=32, description="Six digits; spaces are ignored.")
    name: str = Field(default="", max_length=80)


class PairingOut(Out):
    """Whether this device is paired."""

    paired: bool
    name: str


def session_token() -> str | None:
    """The token of this request: bearer first, else the cookie."""
    authorization = request.headers.get("Authorization", "")
    scheme, _, token = authorization.partition(" ")
    if scheme.lower() == "bearer" and token:
        return token.strip()
    return request.cookies.get(COOKIE)


pages = APIBlueprint("pairing", __name__, tag="pairing")


@pages.post("/pairing")
@pages.input(PairingIn, arg_name="body")
@pages.output(PairingOut, status_code=201)
def pair(body: PairingIn) -> Any:
    """Pair this device with the code on the host's screen."""
    token = context().gate.pair(body.code, body.name)
    g.new_session = token
    return {"paired": True, "name": body.name}


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
    return {"paired": True, "name": name}


@pages.delete("/pairing")
@pages.output({}, status_code=204)
def leave() -> Any:
    """Forget this device."""
    context().gate.leave(session_token())
    g.new_session = None
    response = Response(status=204)
    response.delete_cookie(COOKIE, httponly=True, samesite="Strict")
    return response
