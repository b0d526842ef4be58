"""What the tests of the handset share: a film with a clock drawn in it, browsers that trust our
authority, and a network that can be cut."""

import os
import shutil
import socket
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import requests
from numpy.typing import NDArray
from playwright.sync_api import Browser

from tests.conftest import ARGUMENTS, CHROMIUM
from tests.service import ServiceProcess

FILM_RATE = 30  # Chromium plays a .mjpeg at this rate
STEP_FRAMES = 15
BITS = 10
NAME = "cork.local"  # a name that stands in our certificate and in no other


def make_film(path: Path, width: int, height: int, frames: int) -> Path:
    """A cork that moves a step every half second; each picture carries its number in blocks."""
    rng = np.random.default_rng(7)
    grain = rng.integers(90, 170, (height // 24, width // 24, 3), dtype=np.uint8)
    table = cv2.resize(grain, (width, height), interpolation=cv2.INTER_LINEAR)
    noise = rng.integers(0, 8, table.shape, dtype=np.uint8)  # of a sensor: it fills the JPEG
    table = cv2.add(table, noise)
    with path.open("wb") as film:
        for number in range(frames):
            picture = table.copy()
            _draw_cork(picture, number // STEP_FRAMES)
            _draw_number(picture, number)
            film.write(cv2.imencode(".jpg", picture, (cv2.IMWRITE_JPEG_QUALITY, 85))[1].tobytes())
    return path


def _draw_cork(picture: NDArray[np.uint8], step: int) -> None:
    height, width = picture.shape[:2]
    x = round(width * (0.1 + 0.04 * (step % 20)))
    top, bottom = round(height * 0.55), round(height * 0.8)
    cv2.rectangle(picture, (x, top), (x + height // 9, bottom), (110, 150, 190), -1)


def _draw_number(picture: NDArray[np.uint8], number: int) -> None:
    side = picture.shape[1] // 32
    for place, bit in enumerate(_bits(number)):
        x = side + place * 2 * side
        shade = 255 if bit else 0
        cv2.rectangle(picture, (x, side), (x + side, 2 * side), (shade,) * 3, -1)


def _bits(number: int) -> list[int]:
    bits = [number >> place & 1 for place in range(BITS)]
    return [*bits, sum(bits) % 2, 1]


def read_number(jpeg: bytes) -> int:
    """The number drawn in a picture of the film; fails when it cannot be read."""
    picture = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert picture is not None
    side = picture.shape[1] / 32
    bits = []
    for place in range(BITS + 2):
        x, y = round((1.5 + 2 * place) * side), round(1.5 * side)
        bits.append(int(picture[y - 3 : y + 4, x - 3 : x + 4].mean() > 128))
    number = sum(bit << place for place, bit in enumerate(bits[:BITS]))
    assert bits == _bits(number), f"no number can be read: {bits}"
    return number


def free_port() -> int:
    """A port that is free on both loopback addresses."""
    with socket.socket() as one, socket.socket() as other:
        one.bind(("127.0.0.1", 0))
        port = int(one.getsockname()[1])
        other.bind(("127.0.0.2", port))
        return port


class SecureService(ServiceProcess):
    """`standclear serve --secure --camera handset` on a port of the test's choice."""

    def __init__(self, folder: Path, port: int, *more: str) -> None:
        self.certificates = folder / "certificates"
        options = ["--secure", "--certificates", str(self.certificates), "--port", str(port)]
        super().__init__(folder / "library", "handset", *options, "--name", NAME, *more)
        self.port = port

    def authority(self) -> Path:
        """The authority's certificate, fetched as a phone fetches it."""
        answer = requests.get(f"http://127.0.0.1:{self.port}/ca.crt", timeout=30)
        assert answer.headers["Content-Type"] == "application/x-x509-ca-cert"
        path = self.certificates.parent / "ca.crt"
        path.write_bytes(answer.content)
        return path

    def session(self) -> requests.Session:
        """A script's session that trusts the authority and nothing else."""
        session = requests.Session()
        session.trust_env = False
        session.verify = str(self.authority())
        session.headers["Authorization"] = f"Bearer {self.token()}"
        return session


def trusting_home(folder: Path, authority: Path) -> Path:
    """A home folder in which Chromium finds our authority among those it trusts."""
    if shutil.which("certutil") is None:
        pytest.skip("no certutil (Debian's package libnss3-tools) to make Chromium trust us")
    database = folder / ".pki" / "nssdb"
    database.mkdir(parents=True)
    certutil = ["certutil", "-d", f"sql:{database}"]
    subprocess.run([*certutil, "-N", "--empty-password"], check=True, timeout=60)
    subprocess.run(
        [*certutil, "-A", "-t", "C,,", "-n", "standclear", "-i", str(authority)],
        check=True,
        timeout=60,
    )
    return folder


@contextmanager
def browser_at_home(chromium: Browser, home: Path, *more: str) -> Iterator[Browser]:
    """A Chromium of its own with that home; no error of a certificate is passed over."""
    environment = {**os.environ, "HOME": str(home)}
    browser = chromium.browser_type.launch(
        executable_path=CHROMIUM, args=[*ARGUMENTS, *more], env=environment
    )
    try:
        yield browser
    finally:
        browser.close()


def handset_arguments(film: Path | None, address: str) -> list[str]:
    """Chromium's switches: a film, or its own test picture, as camera; our name at an address."""
    arguments = ["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"]
    if film is not None:
        arguments.append(f"--use-file-for-fake-video-capture={film}")
    return [*arguments, f"--host-resolver-rules=MAP {NAME} {address}"]


class Cutter:
    """A network on 127.0.0.2 that leads to 127.0.0.1, and can be cut."""

    def __init__(self, port: int) -> None:
        self._port = port
        self._lock = threading.Lock()
        self._pairs: set[tuple[socket.socket, socket.socket]] = set()
        self._cut_after: int | None = None
        self.cuts = 0
        self.up = threading.Event()
        self.up.set()
        self._listener = socket.create_server(("127.0.0.2", port))
        self._accepting = threading.Thread(target=self._accept, daemon=True)
        self._accepting.start()

    def cut_after(self, sent: int) -> None:
        """Cut everything once one connection has sent so many bytes more towards the service, and
        keep the network down until :attr:`up` is set."""
        with self._lock:
            self._cut_after = sent

    def close(self) -> None:
        """End it."""
        with suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)  # wakes the thread that waits in it
        self._listener.close()
        self._accepting.join(10)
        self._end_all()

    def _accept(self) -> None:
        while True:
            try:
                client, _ = self._listener.accept()
            except OSError:
                return
            if not self.up.is_set():
                client.close()
                continue
            try:
                service = socket.create_connection(("127.0.0.1", self._port), timeout=10)
            except OSError:
                client.close()
                continue
            service.settimeout(None)
            pair = (client, service)
            with self._lock:
                self._pairs.add(pair)
            if not self.up.is_set():  # cut in this very moment
                self._end_all()
                continue
            for one, other, counts in ((client, service, True), (service, client, False)):
                threading.Thread(target=self._carry, args=(one, other, counts), daemon=True).start()

    def _carry(self, source: socket.socket, to: socket.socket, counts: bool) -> None:
        sent = 0
        with suppress(OSError):
            while data := source.recv(16_384):
                sent += len(data) if counts and self._cut_after is not None else 0
                if self._cut_after is not None and sent > self._cut_after:
                    self._cut()
                    return
                to.sendall(data)
        for one in (source, to):
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)

    def _cut(self) -> None:
        with self._lock:
            self._cut_after = None
        self.cuts += 1
        self.up.clear()
        self._end_all()

    def _end_all(self) -> None:
        with self._lock:
            pairs, self._pairs = self._pairs, set()
        for pair in pairs:
            for one in pair:
                with suppress(OSError):
                    one.shutdown(socket.SHUT_RDWR)
                one.close()


NUMBER_NOW = """
() => {
  const video = document.querySelector("video");
  const side = video.videoWidth / 32;
  const canvas = new OffscreenCanvas(video.videoWidth, Math.ceil(3 * side));
  const pen = canvas.getContext("2d", { alpha: false, willReadFrequently: true });
  pen.drawImage(video, 0, 0);
  let number = 0;
  for (let place = 0; place < 10; place++) {
    const [shade] = pen.getImageData((1.5 + 2 * place) * side, 1.5 * side, 1, 1).data;
    if (shade > 128) number |= 1 << place;
  }
  return number;
}
"""


def number_now(page: Any) -> int:
    """The number in the picture that the handset's page shows at this moment."""
    return int(page.evaluate(NUMBER_NOW))
