"""`WS /live`: the newest picture, each time the viewer asks.

One picture answers one message, so a slow viewer never builds a queue. Each message is a JPEG whose
first comment segment carries its story as JSON (ISO/IEC 10918-1, marker FF FE): any program can
show it, and the page reads how old it is.
"""

import json
import struct
import threading
from collections.abc import Callable, Iterator, MutableMapping
from contextlib import contextmanager
from typing import Any

from flask import Flask, request
from flask_sock import Sock
from simple_websocket import ConnectionClosed, Server

from standclear.shooting.describe import API
from standclear.shooting.live import LiveFrame
from standclear.shooting.stage import Stage
from standclear.web.postman import Postman, Viewer, WholeSends

LIVE_PATH = f"{API}/live"
GOING_AWAY = 1001
FINAL_BINARY = 0x82
TOO_MANY = 4503
MOST_VIEWERS = 48
PING_S = 20
MOST_ASKED = 1024


def framed(frame: LiveFrame, width: int | None) -> bytes:
    """The picture as a whole binary websocket message (RFC 6455, 5.2; a server does not mask).

    Made once for all viewers: sixteen of them cost sixteen sends, not sixteen messages.
    """

    def make(jpeg: bytes) -> bytes:
        message = stamped(frame, jpeg)
        return message_head(len(message)) + message

    return frame.made(width, make)


def message_head(length: int) -> bytes:
    """The head of a whole binary message; the length takes as few bytes as it can, or browsers
    refuse it."""
    if length < 126:
        return struct.pack(">BB", FINAL_BINARY, length)
    if length < 0x10000:
        return struct.pack(">BBH", FINAL_BINARY, 126, length)
    return struct.pack(">BBQ", FINAL_BINARY, 127, length)


def stamped(frame: LiveFrame, jpeg: bytes) -> bytes:
    """A JPEG with the picture's story in a comment segment right after the start marker."""
    story = json.dumps(
        {
            "seq": frame.seq,
            "at_ms": frame.at_ms,
            "age_ms": round(frame.age_s * 1000, 1),
            "source": frame.source,
        }
    ).encode()
    segment = b"\xff\xfe" + struct.pack(">H", len(story) + 2) + story
    return jpeg[:2] + segment + jpeg[2:]


def asked_width(text: str | bytes) -> int | None:
    """The width in ``{"width": n}``; anything else asks for the picture as it is."""
    if len(text) > MOST_ASKED or text.lstrip()[:1] not in ("{", b"{"):
        return None
    try:
        width = json.loads(text).get("width")
    except (ValueError, AttributeError):
        return None
    return width if isinstance(width, int) and 1 <= width <= 8192 else None


class ReadsHere:
    """Stands in for the thread in which flask-sock's websocket reads: the request's own thread,
    which waits for the viewer to leave anyway, does the reading (one wake-up for each message
    instead of two, and half the threads)."""

    def __init__(self, target: Callable[[], None]) -> None:
        self.name = "live-viewer"
        self.read_until_closed = target

    def start(self) -> None:
        """Not yet: see :func:`serve`."""


def reader(target: Callable[[], None]) -> Any:
    """What reads a websocket: the live view's is read where it is served, others by a thread."""
    if request.path == LIVE_PATH:
        return ReadsHere(target)
    return threading.Thread(target=target)


class Asks(list[str | bytes]):
    """Where the websocket puts what it received: each message is answered at once."""

    def __init__(self, viewer: Viewer, postman: Postman) -> None:
        super().__init__()
        self._viewer = viewer
        self._postman = postman

    def append(self, message: str | bytes) -> None:
        """The viewer asks for a picture."""
        self._viewer.width = asked_width(message)
        self._postman.ask(self._viewer)


class Viewers:
    """Counts the viewers, and closes every socket when the service stops."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._sockets: set[Any] = set()

    @contextmanager
    def seated(self, ws: Any) -> Iterator[bool]:
        """Entered with False when there is no seat left."""
        with self._lock:
            seat = len(self._sockets) < MOST_VIEWERS
            if seat:
                self._sockets.add(ws)
        try:
            yield seat
        finally:
            with self._lock:
                self._sockets.discard(ws)

    def close_all(self) -> None:
        """Tell every viewer that the service goes away (RFC 6455, 1001)."""
        with self._lock:
            sockets = list(self._sockets)
        for ws in sockets:
            close(ws, GOING_AWAY, "The service is stopping.")


def close(ws: Any, code: int, reason: str) -> None:
    """Close, whatever state the socket is in."""
    try:
        ws.close(code, reason)
    except (ConnectionClosed, OSError):
        return


def without_deflate(app: Callable[..., Any]) -> Callable[..., Any]:
    """JPEGs do not shrink: refuse permessage-deflate, which costs twice the time for nothing, on
    every websocket, and send each message whole."""

    def wrapped(environ: MutableMapping[str, Any], start_response: Any) -> Any:
        if environ.get("HTTP_UPGRADE", "").lower() == "websocket":
            environ.pop("HTTP_SEC_WEBSOCKET_EXTENSIONS", None)
            for name in ("gunicorn.socket", "werkzeug.socket"):
                if name in environ:
                    environ[name] = WholeSends(environ[name])
        return app(environ, start_response)

    return wrapped


def serve(ws: Server, stage: Stage, postman: Postman) -> None:
    """One viewer, until it leaves or the service stops: each message asks for a picture."""
    state = stage.camera()
    if state.capabilities is not None and not state.capabilities.live_picture:
        shot = request.args.get("shot", "")
        if shot:
            stage.show_last_exposure(shot)
    viewer = Viewer(ws.sock)
    ws.input_buffer = Asks(viewer, postman)
    try:
        with stage.live.watching():
            stage.look()
            ws.thread.read_until_closed()
    finally:
        postman.forget(viewer)


def register(app: Flask, stage: Stage) -> Viewers:
    """Put the live view on the application."""
    viewers = Viewers()
    postman = Postman(stage.live, framed, MOST_VIEWERS)
    app.config["SOCK_SERVER_OPTIONS"] = {
        "max_message_size": 4096,
        "receive_bytes": 4096,
        "thread_class": reader,
        "ping_interval": PING_S,  # a viewer that went out of reach says no goodbye
    }
    sock = Sock(app)

    @sock.route(LIVE_PATH)  # type: ignore[untyped-decorator,unused-ignore]
    def live(ws: Server) -> None:
        with viewers.seated(ws) as seat:
            if not seat:
                close(ws, TOO_MANY, "Too many viewers are connected.")
                return
            serve(ws, stage, postman)

    app.wsgi_app = without_deflate(app.wsgi_app)  # type: ignore[method-assign]
    return viewers
