"""A crowd of remotes, as a program of its own: each listens, goes dark when told, presses in turn.

Usage: python -m tests.bench.load_crowd URL TOKEN SHOT REMOTES SECONDS
One press a second falls to each remote in its turn. Prints what came of them as JSON.
"""

import http.client
import json
import sys
import threading
import time
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit


@dataclass
class Seen:
    """What the whole crowd met."""

    kept: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    press_ms: list[float] = field(default_factory=list)
    events: int = 0
    busy: int = 0
    lock: threading.Lock = field(default_factory=threading.Lock)

    def error(self, text: str) -> None:
        """Note a fault."""
        with self.lock:
            self.errors.append(text)


class Remote:
    """One phone: an event stream in one thread, presses in another.

    A press goes over a line of its own, as in a browser: the presser's word that its screen is
    black must not wait for the answer to its press.
    """

    def __init__(self, url: str, token: str, name: str, seen: Seen) -> None:
        self._host = urlsplit(url).netloc
        self._headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}
        self._name = name
        self._seen = seen

    def ask(
        self, line: http.client.HTTPConnection, path: str, body: Any, **headers: str
    ) -> tuple[int, Any]:
        """One POST over ``line``: status and JSON."""
        data = json.dumps(body).encode()
        line.request("POST", "/api/v1" + path, data, {**self._headers, **headers})
        answer = line.getresponse()
        text = answer.read()
        return answer.status, json.loads(text) if text else None

    def listen(self, until: float) -> None:
        """Follow the events; say that the screen is black each time the shutter opens."""
        line = http.client.HTTPConnection(self._host, timeout=10)
        says = http.client.HTTPConnection(self._host, timeout=30)
        line.request("GET", f"/api/v1/events?screen={self._name}", headers=self._headers)
        answer = line.getresponse()
        kind = ""
        while time.monotonic() < until:
            text = answer.readline().decode()
            if not text:
                self._seen.error(f"{self._name}: the event stream ended")
                return
            if text.startswith("event: "):
                kind = text.removeprefix("event: ").strip()
            elif text.startswith("data: "):
                self._seen.events += 1
                if kind == "exposing":
                    press = json.loads(text.removeprefix("data: "))["press"]
                    self.ask(says, f"/screens/{self._name}/dark", {"press": press})
        says.close()
        line.close()

    def press(self, shot: str, key: str) -> None:
        """One press, which must be answered with one exposure.

        While another's picture is being taken it is told so, and presses again, as a person would.
        """
        start = time.perf_counter()
        line = http.client.HTTPConnection(self._host, timeout=30)
        path = f"/shots/{shot}/exposures"
        status, body = self.ask(line, path, {}, **{"Idempotency-Key": key})
        while status == 409 and body["code"] == "camera_busy":
            self._seen.busy += 1
            time.sleep(0.1)
            status, body = self.ask(line, path, {}, **{"Idempotency-Key": key})
        took = (time.perf_counter() - start) * 1000
        line.close()
        with self._seen.lock:
            if status == 201:
                self._seen.kept.append(body["items"][0]["id"])
                self._seen.press_ms.append(took)
            else:
                self._seen.errors.append(f"{self._name}: {status} {body}")


def guarded(seen: Seen, work: Any, *words: Any) -> None:
    """A fault of a connection counts as one of the crowd's errors."""
    try:
        work(*words)
    except (OSError, http.client.HTTPException, ValueError) as error:
        seen.error(f"{work.__qualname__}: {error!r}")


def run(url: str, token: str, shot: str, remotes: int, seconds: float) -> Seen:
    """All remotes listen; one press a second, in turn."""
    seen = Seen()
    crowd = [Remote(url, token, f"remote-{number}", seen) for number in range(remotes)]
    start = time.monotonic()
    pressing = [
        threading.Thread(
            target=guarded, args=(seen, take_turns, crowd, number, shot, start, seconds)
        )
        for number in range(remotes)
    ]
    listening = [
        threading.Thread(target=guarded, args=(seen, one.listen, start + seconds + 2))
        for one in crowd
    ]
    for thread in [*listening, *pressing]:
        thread.start()
    for thread in [*listening, *pressing]:
        thread.join()
    return seen


def take_turns(crowd: list[Remote], number: int, shot: str, start: float, seconds: float) -> None:
    """Presses ``number``, ``number + len(crowd)``, … of one press a second."""
    for turn in range(number, round(seconds), len(crowd)):
        time.sleep(max(0.0, start + turn - time.monotonic()))
        crowd[number].press(shot, f"load-{turn}")


def main() -> None:
    """Run and report."""
    url, token, shot, remotes, seconds = sys.argv[1:6]
    seen = run(url, token, shot, int(remotes), float(seconds))
    print(
        json.dumps(
            {
                "kept": seen.kept,
                "errors": seen.errors,
                "press_ms": seen.press_ms,
                "events": seen.events,
                "busy": seen.busy,
            }
        )
    )


if __name__ == "__main__":
    main()
