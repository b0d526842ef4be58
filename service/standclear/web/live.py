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

GOING_AWAY = 1001
FINAL_BINARY = 0x82
NO_LIVE = 4409
TOO_MANY = 4503
MOST_VIEWERS = 48
WAIT_S = 1.0
PING_S = 20
MOST_ASKED = 1024


class WholeSends:
    """A socket that sends each message whole: ``send`` may stop short on a full buffer, and the
    answer to a ping, sent by the reading thread, must not fall into the middle of a picture."""

    def __init__(self, sock: Any) -> None:
        self._sock = sock
        self._one_message = threading.Lock()

    def send(self, data: bytes) -> int:
        with self._one_message:
            self._sock.sendall(data)
        return len(data)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._sock, name)


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
    """JPEGs do not shrink: refuse permessage-deflate, which costs twice the time for nothing."""

    def wrapped(environ: MutableMapping[str, Any], start_response: Any) -> Any:
        if environ.get("PATH_INFO") == f"{API}/live":
            environ.pop("HTTP_SEC_WEBSOCKET_EXTENSIONS", None)
            for name in ("gunicorn.socket", "werkzeug.socket"):
                if name in environ:
                    environ[name] = WholeSends(environ[name])
        return app(environ, start_response)

    return wrapped


def send(ws: Server, message: bytes) -> None:
    """Send a message that is framed already."""
    if not ws.connected:
        raise ConnectionClosed(ws.close_reason, ws.close_message)
    ws.sock.send(message)


def serve(ws: Server, stage: Stage) -> None:
    """One viewer, until it leaves or the service stops."""
    state = stage.camera()
    if state.capabilities is not None and not state.capabilities.live_picture:
        shot = request.args.get("shot", "")
        if shot:
            stage.show_last_exposure(shot)
    seen = 0
    stage.look()
    with stage.live.watching():
        asked = ws.receive()
        while not stage.live.closed:
            frame = stage.live.newer_than(seen, WAIT_S)
            if frame is None:
                if not ws.connected:
                    return
                continue
            send(ws, framed(frame, asked_width(asked)))
            seen = frame.seq
            asked = ws.receive()
    close(ws, GOING_AWAY, "The service is stopping.")


def register(app: Flask, stage: Stage) -> Viewers:
    """Put the live view on the application."""
    viewers = Viewers()
    app.config["SOCK_SERVER_OPTIONS"] = {
        "max_message_size": 4096,
        "receive_bytes": 4096,
        "ping_interval": PING_S,  # a viewer that went out of reach says no goodbye
    }
    sock = Sock(app)

    @sock.route(f"{API}/live")  # type: ignore[untyped-decorator,unused-ignore]
    def live(ws: Server) -> None:
        with viewers.seated(ws) as seat:
            if not seat:
                close(ws, TOO_MANY, "Too many viewers are connected.")
                return
            serve(ws, stage)

    app.wsgi_app = without_deflate(app.wsgi_app)  # type: ignore[method-assign]
    return viewers
