"""`WS /handset`: orders, beats and live pictures between the service and a phone as its camera.

Service and handset agree on the time: each beat is answered with the service's clock, and each
picture comes with the moment it was taken.

A live picture is a binary message: eight bytes, the moment in milliseconds of the service's
monotonic clock (a big-endian double), then the JPEG. Each is answered with ``got``; the page has
two on the way at most, so a poor network makes them fewer, not older.
"""

import json
import math
import struct
import threading
import time
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from flask import Flask, Response, request
from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError
from simple_websocket import ConnectionClosed, Server

from standclear.cameras.base import LivePicture, NotOffered
from standclear.cameras.handset import Facts, HandsetLink, PlaceTaken
from standclear.shooting.describe import API
from standclear.web.context import context
from standclear.web.live import PING_S, TOO_MANY, Viewers, close

PATH = f"{API}/handset"
TAKEN_OVER = 4410
ANOTHER = "Another page is this camera now."
NO_SUCH_NAME = 4404
NOT_UNDERSTOOD = 1008
MOST_MESSAGE = 4_000_000
STAMP = struct.Struct(">d")
#: A picture that claims to be older is shown as this old.
OLDEST_S = 30.0


class _Said(BaseModel):
    model_config = ConfigDict(extra="ignore")


class SaidFacts(_Said):
    """What the handset says of itself."""

    says: Literal["facts"]
    track: dict[str, Any] = Field(default_factory=dict)
    battery_percent: int | None = Field(default=None, ge=0, le=100)
    warnings: list[Annotated[str, Field(max_length=300)]] = Field(default=[], max_length=8)

    def facts(self) -> Facts:
        """As the link keeps it."""
        return Facts(self.track, self.battery_percent, tuple(self.warnings))


class SaidBeat(_Said):
    """It is there, and perhaps at work on an order; ``sent`` is its own time in milliseconds."""

    says: Literal["beat"]
    sent: float = 0.0
    order: str | None = Field(default=None, max_length=40)


class SaidDone(_Said):
    """An order other than a photo was carried out."""

    says: Literal["done"]
    order: str = Field(max_length=40)


class SaidFailed(_Said):
    """An order cannot be carried out; ``because`` is a sentence."""

    says: Literal["failed"]
    order: str = Field(max_length=40)
    because: str = Field(default="", max_length=300)
    photo_taken: bool | None = None


_SAID: TypeAdapter[SaidFacts | SaidBeat | SaidDone | SaidFailed] = TypeAdapter(
    Annotated[SaidFacts | SaidBeat | SaidDone | SaidFailed, Field(discriminator="says")]
)


class Speaker:
    """Says messages to one handset, one at a time."""

    def __init__(self, ws: Server) -> None:
        self.ws = ws
        self._one_message = threading.Lock()

    def __call__(self, message: Mapping[str, Any]) -> None:
        """Send it. Raises OSError."""
        try:
            with self._one_message:
                self.ws.send(json.dumps(message))
        except ConnectionClosed as error:
            raise ConnectionResetError("The handset has gone.") from error


def converse(ws: Server, link: HandsetLink, page: str, *, again: bool) -> None:
    """One handset, until it leaves or another takes its place."""
    speaker = Speaker(ws)
    try:
        before = link.attach(speaker, page, again=again)
    except PlaceTaken:
        close(ws, TAKEN_OVER, ANOTHER)
        return
    if isinstance(before, Speaker):
        close(before.ws, TAKEN_OVER, ANOTHER)
    try:
        while True:
            hear(link, speaker, ws.receive())
    except (ConnectionClosed, OSError):
        return
    except (ValidationError, ValueError):
        close(ws, NOT_UNDERSTOOD, "That was not understood.")
    finally:
        link.detach(speaker)


def hear(link: HandsetLink, speaker: Speaker, message: str | bytes) -> None:
    """One message. Raises ValueError for what is none, OSError when the handset has gone."""
    if isinstance(message, bytes):
        link.shows(live_picture(message))
        speaker({"does": "got"})
        return
    said = _SAID.validate_json(message)
    if isinstance(said, SaidFacts):
        link.hears(said.facts())
    elif isinstance(said, SaidBeat):
        link.hears()
        if said.order is not None:
            link.works_on(said.order)
        speaker({"does": "time", "sent": said.sent, "now": time.monotonic() * 1000})
    elif isinstance(said, SaidDone):
        link.answers(said.order, {})
    else:
        why = {"says": said.because, "photo_taken": said.photo_taken}
        link.fails(said.order, why)


def live_picture(message: bytes) -> LivePicture:
    """Moment and JPEG of a binary message. Raises ValueError."""
    jpeg = message[STAMP.size :]
    if not jpeg.startswith(b"\xff\xd8"):
        raise ValueError("not a JPEG")
    (at_ms,) = STAMP.unpack_from(message)
    return LivePicture(at=plausible(at_ms / 1000), jpeg=jpeg)


def plausible(at: float) -> float:
    """A moment as the handset tells it, never ahead of now nor absurdly old (nor NaN)."""
    now = time.monotonic()
    return min(max(at, now - OLDEST_S), now) if math.isfinite(at) else now


def register(app: Flask, viewers: Viewers) -> None:
    """Put the handset's socket on the application."""

    @app.route(PATH, websocket=True, endpoint="handset.socket")
    def handset_socket() -> Response:
        ws = accept()
        with viewers.seated(ws) as seat:
            if seat:
                take_up(ws, request.args)
            else:
                close(ws, TOO_MANY, "Too many pages are connected.")
        return Handled(ws.mode)


def take_up(ws: Server, asked: Mapping[str, str]) -> None:
    """Let the page be the handset of that ``name``. ``page`` is what it calls itself; ``again``
    says that it comes back by itself, after a break."""
    try:
        link = context().handsets.link(asked.get("name", ""))
    except NotOffered as error:
        close(ws, NO_SUCH_NAME, error.detail)
    else:
        converse(ws, link, asked.get("page", ""), again="again" in asked)


def accept() -> Server:
    """The websocket of this request, with room for the pictures that come in."""
    return Server(
        request.environ,
        receive_bytes=65_536,
        max_message_size=MOST_MESSAGE,
        ping_interval=PING_S,
    )


class Handled(Response):
    """The answer after a websocket: the server must write nothing more to it."""

    def __init__(self, mode: str) -> None:
        super().__init__()
        self._mode = mode

    def __call__(self, environ: Any, start_response: Any) -> Any:
        """As flask-sock ends its sockets: gunicorn lets the connection go on StopIteration."""
        if self._mode == "gunicorn":
            raise StopIteration
        return super().__call__(environ, start_response)
