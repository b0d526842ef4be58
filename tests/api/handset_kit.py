"""A handset made of a socket: it says and does what a phone's page would."""

import base64
import contextlib
import hashlib
import json
import socket
import struct
import threading
import time
from typing import Any

import requests
import websocket

from tests.service import ServiceProcess
from tests.waiting import until

#: Capabilities and settings as a phone's browser gives them (MediaStream Image Capture, W3C).
TRACK = {
    "capabilities": {
        "exposureMode": ["continuous", "manual"],
        "exposureTime": {"min": 1, "max": 2000, "step": 1},
        "iso": {"min": 50, "max": 1600, "step": 1},
    },
    "settings": {"exposureMode": "continuous", "exposureTime": 200, "iso": 100},
}


class Handset:
    """As much of the page /handset as a service can tell from outside."""

    def __init__(
        self,
        service: ServiceProcess,
        token: str,
        name: str = "",
        *,
        silent: bool = False,
        more: str = "",
    ) -> None:
        self.url = service.url + "/api/v1/handset"
        self.bearer = {"Authorization": f"Bearer {token}"}
        address = self.url.replace("http", "ws", 1) + f"?name={name}{more}"
        self.socket = websocket.create_connection(address, header=self.bearer, timeout=10)
        self.told: list[dict[str, Any]] = []
        self.code: int | None = None
        self._ended = threading.Event()
        self._sending = threading.Lock()
        self._listener = threading.Thread(target=self._listen, daemon=True)
        self._listener.start()
        if not silent:
            threading.Thread(target=self._beat, daemon=True).start()
            self.say(says="facts", track=TRACK, battery_percent=80)

    def say(self, **message: Any) -> None:
        with self._sending:
            self.socket.send(json.dumps(message))

    def show(self, picture: bytes, at_ms: float) -> None:
        """A live picture."""
        with self._sending:
            self.socket.send_binary(struct.pack(">d", at_ms) + picture)

    def order(self, does: str = "photo", nth: int = 1) -> dict[str, Any]:
        """The nth order of that kind, once it has come."""

        def found() -> dict[str, Any] | None:
            orders = [one for one in self.told if one["does"] == does]
            return orders[nth - 1] if len(orders) >= nth else None

        return until(found, 10, f"for the order {does}")  # type: ignore[return-value]

    def upload(self, order: str, photo: bytes, digest: bytes | None = None) -> requests.Response:
        sha256 = hashlib.sha256(photo).digest() if digest is None else digest
        told = f"sha-256=:{base64.b64encode(sha256).decode()}:"
        headers = {**self.bearer, "Content-Digest": told, "Content-Type": "image/jpeg"}
        return requests.put(f"{self.url}/photos/{order}", photo, headers=headers, timeout=20)

    def fall_silent(self) -> None:
        """As if the network were gone: nothing more is said, and nobody closes."""
        self._ended.set()

    def leave(self) -> None:
        """Go without a word; the listening thread closes the socket."""
        self._ended.set()
        with contextlib.suppress(OSError, AttributeError):  # closed already
            self.socket.sock.shutdown(socket.SHUT_RDWR)
        self._listener.join(10)

    def _beat(self) -> None:
        while not self._ended.wait(0.2):
            try:
                self.say(says="beat", sent=time.time() * 1000)
            except (OSError, websocket.WebSocketException):
                return

    def _listen(self) -> None:
        try:
            self._hear_all()
        finally:
            self._ended.set()
            with self._sending:
                self.socket.shutdown()

    def _hear_all(self) -> None:
        while True:
            try:
                opcode, data = self.socket.recv_data()
            except (OSError, websocket.WebSocketException):
                return
            if opcode == websocket.ABNF.OPCODE_CLOSE:
                self.code = int.from_bytes(data[:2], "big")
                return
            self.told.append(json.loads(data))
