"""A viewer of the live view, as a program of its own. Prints what it saw as JSON.

Usage: python -m tests.bench.live_viewer ws|mjpeg URL TOKEN SECONDS [PAUSE]
``PAUSE`` seconds between pictures makes a slow viewer. Latency is from the driver's picture to the
whole message received, both ends on one machine's clock. A library makes the handshake; the
messages are then read from its socket in two calls each and the program gives way to others (nice),
since sixteen phones would not take the service's two cores either.
"""

import json
import os
import socket
import struct
import sys
import time

import requests
import websocket

from tests.bench.tables import median, percentile


def story(jpeg: bytes) -> dict[str, float]:
    """The JSON in the first comment segment."""
    length = int.from_bytes(jpeg[4:6], "big")
    return dict(json.loads(jpeg[6 : 4 + length]))


#: "next" as a client's text message, masked with nothing but zeros (RFC 6455, 5.3).
ASK = b"\x81\x84\x00\x00\x00\x00next"
PICTURE, PING = 0x82, 0x89


def read(sock: socket.socket, count: int) -> bytes:
    """So many bytes, in one call as a rule."""
    data = bytearray(count)
    view, got = memoryview(data), 0
    while got < count:
        more = sock.recv_into(view[got:], count - got, socket.MSG_WAITALL)
        if not more:
            raise ConnectionError("The service closed the live view.")
        got += more
    return bytes(data)


def message(sock: socket.socket) -> bytes:
    """The next whole binary message (RFC 6455, 5.2); a ping before it is answered (5.5.3)."""
    kind, length = read(sock, 2)
    if length == 126:
        (length,) = struct.unpack(">H", read(sock, 2))
    elif length == 127:
        (length,) = struct.unpack(">Q", read(sock, 8))
    data = read(sock, length)
    if kind == PICTURE:
        return data
    if kind == PING:
        sock.sendall(bytes([0x8A, 0x80 | len(data), 0, 0, 0, 0]) + data)
    return message(sock)


def watch_socket(url: str, token: str, seconds: float, pause: float) -> list[tuple[float, float]]:
    """(moment, latency in ms) of each picture."""
    viewer = websocket.create_connection(
        url.replace("http", "ws", 1) + "/api/v1/live",
        header={"Authorization": f"Bearer {token}"},
        timeout=20,
    )
    sock: socket.socket = viewer.sock
    sock.settimeout(None)
    seen = []
    end = time.time() + seconds
    while time.time() < end:
        sock.sendall(ASK)
        data = message(sock)
        now = time.time()
        seen.append((now, now * 1000 - story(data)["at_ms"]))
        if pause:
            time.sleep(pause)
    viewer.close()
    return seen


def watch_multipart(url: str, seconds: float) -> list[tuple[float, float]]:
    """The same over multipart MJPEG."""
    seen = []
    end = time.time() + seconds
    with requests.get(f"{url}/multipart", stream=True, timeout=20) as answer:
        raw = answer.raw
        while time.time() < end:
            line = raw.readline()
            if not line.lower().startswith(b"content-length:"):
                continue
            size = int(line.split(b":")[1])
            raw.readline()
            data = raw.read(size)
            now = time.time()
            seen.append((now, now * 1000 - story(data)["at_ms"]))
    return seen


def main() -> None:
    """Watch and report."""
    os.nice(5)
    kind, url, token = sys.argv[1:4]
    seconds = float(sys.argv[4])
    pause = float(sys.argv[5]) if len(sys.argv) > 5 else 0.0
    seen = (
        watch_socket(url, token, seconds, pause) if kind == "ws" else watch_multipart(url, seconds)
    )
    steady = seen[len(seen) // 5 :]  # the first pictures meet a camera that is just waking
    took = steady[-1][0] - steady[0][0]
    latencies = [latency for _, latency in steady]
    print(
        json.dumps(
            {
                "fps": (len(steady) - 1) / took,
                "p50": median(latencies),
                "p95": percentile(latencies, 95),
                "last_half_p95": percentile(latencies[len(latencies) // 2 :], 95),
            }
        )
    )


if __name__ == "__main__":
    main()
