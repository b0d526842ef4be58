"""The real service as a child process, for tests from outside."""

import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import requests

from standclear.clock import SystemClock
from standclear.library.desk import Desk
from standclear.web.gate import Gate
from tests.waiting import until

#: A service that ends is noticed at once; one that is starved by its neighbours has its time.
START_S = 120


class ServiceProcess:
    """`standclear serve` on a free port; ended by id, politely or not."""

    def __init__(
        self,
        library: Path,
        camera: str = "rehearsal",
        *more: str,
        env: dict[str, str] | None = None,
        prefix: Sequence[str] = (),
    ) -> None:
        self.library = library
        self.lines: list[str] = []
        self.process = subprocess.Popen(
            [*prefix, sys.executable, "-u", *self.command(library, camera, *more)],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            stdin=subprocess.DEVNULL,
            text=True,
            env={**os.environ, **(env or {})},
        )
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()
        self.url = ""

    @staticmethod
    def command(library: Path, camera: str, *more: str) -> list[str]:
        """What Python runs."""
        serve = ["-m", "standclear.cli", "serve", "--library", str(library), "--camera", camera]
        return [*serve, "--host", "127.0.0.1", "--port", "0", *more]

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.lines.append(line.rstrip("\n"))

    def output(self) -> str:
        """What it has printed so far."""
        return "\n".join(self.lines)

    def find(self, pattern: str, timeout: float = 30) -> str:
        """The first group of ``pattern`` once it is printed."""

        def found() -> str | None:
            match = re.search(pattern, self.output())
            assert match or self.process.poll() is None, f"the service ended:\n{self.output()}"
            return match.group(1) if match else None

        return str(until(found, timeout, f"for {pattern!r} in:\n{self.output()}"))

    def start(self) -> "ServiceProcess":
        """Wait until requests are taken."""
        self.url = self.find(r"listening on (http\S+)", START_S)
        return self

    def code(self) -> str:
        """The pairing code from its screen."""
        return self.find(r"pairing code: (\d{3} \d{3})").replace(" ", "")

    def token(self) -> str:
        """A token, made beside the running service as `standclear token` makes it."""
        clock = SystemClock()
        with Desk.open(self.library, clock) as desk:
            return Gate(desk, clock).new_token("test")

    def api(self, token: str | None = None) -> "Api":
        """A paired client; with the token of an earlier run, which is still good."""
        return Api(self.url, token or self.token())

    def stop(self, timeout: float = 20) -> int:
        """SIGTERM, then wait."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
        return self.process.wait(timeout)

    def kill(self) -> None:
        """SIGKILL, then wait."""
        self.process.kill()
        self.process.wait(20)

    def __enter__(self) -> "ServiceProcess":
        return self.start()

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            self.kill()
        self._reader.join(5)
        assert self.process.stdout is not None
        self.process.stdout.close()


class Api:
    """A small client of the REST interface."""

    def __init__(self, url: str, token: str) -> None:
        self.url = url + "/api/v1"
        self.session = requests.Session()
        self.session.headers["Authorization"] = f"Bearer {token}"

    def call(self, method: str, path: str, **kwargs: Any) -> requests.Response:
        """A request; the caller looks at the status."""
        return self.session.request(method, self.url + path, timeout=60, **kwargs)

    def ok(self, method: str, path: str, **kwargs: Any) -> Any:
        """A request that must succeed; its JSON."""
        response = self.call(method, path, **kwargs)
        assert response.ok, f"{method} {path}: {response.status_code} {response.text}"
        return response.json() if response.content else None

    def wait_for_camera(self) -> None:
        """Wait until the camera is ready."""
        until(lambda: self.ok("GET", "/camera")["state"] == "ready", 30)

    def close(self) -> None:
        """Let the connections go."""
        self.session.close()
