"""A viewer of the live view, as a program of its own. Prints what it saw as JSON.

Usage: python -m tests.bench.live_viewer ws|mjpeg URL TOKEN SECONDS [PAUSE]
``PAUSE`` seconds between pictures makes a slow viewer. Latency is from the driver's picture to the
whole message received, both ends on one machine's clock.
"""

import json
import sys
import time

import requests
import websocket

from tests.bench.tables import median, percentile


def story(message: bytes) -> dict[str, float]:
    """The JSON in the first comment segment."""
    length = int.from_bytes(message[4:6], "big")
    return dict(json.loads(message[6 : 4 + length]))


def watch_socket(url: str, token: str, seconds: float, pause: float) -> list[tuple[float, float]]:
    """(moment, latency in ms) of each picture."""
    viewer = websocket.create_connection(
        url.replace("http", "ws", 1) + "/api/v1/live",
        header={"Authorization": f"Bearer {token}"},
        timeout=20,
    )
    seen = []
    end = time.time() + seconds
    while time.time() < end:
        viewer.send("next")
        message = viewer.recv()
        now = time.time()
        seen.append((now, now * 1000 - story(message)["at_ms"]))
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
            message = raw.read(size)
            now = time.time()
            seen.append((now, now * 1000 - story(message)["at_ms"]))
    return seen


def main() -> None:
    """Watch and report."""
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
