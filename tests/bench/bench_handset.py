"""A phone as the camera, in Chromium on loopback over HTTPS: press to 201, and the live picture.

The browser's own photo time and a bare upload of the same bytes are measured in the same run and
on the same page. That every picture is from after its press is proved by the clock drawn in the
film: the film's start is bounded by when its pictures were shown, whatever the page says of them.
"""

import base64
import ssl
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
import requests
import websocket
from playwright.sync_api import Browser, Page, expect

from tests.bench.bench_live import PAINT
from tests.bench.live_viewer import story
from tests.bench.tables import LONG, Table, median, percentile
from tests.handset_kit import (
    FILM_RATE,
    SecureService,
    browser_at_home,
    free_port,
    handset_arguments,
    make_film,
    read_number,
    trusting_home,
)
from tests.waiting import until

PRESSES = 30 if LONG else 8
PHOTOS = 12 if LONG else 4
SECONDS = 20 if LONG else 5
FRAMES = 300

#: The browser's own photo, alone.
BARE_PHOTO = """
async () => {
  const track = document.querySelector("video").srcObject.getVideoTracks()[0];
  const stills = new ImageCapture(track);
  const start = performance.now();
  await stills.takePhoto();
  return performance.now() - start;
}
"""

#: An upload of the same bytes, from a page of a server that does nothing but receive them.
BARE_UPLOAD = """
async ({ photo }) => {
  const body = Uint8Array.from(atob(photo), (one) => one.charCodeAt(0));
  const start = performance.now();
  const answer = await fetch("/", { method: "PUT", body });
  await answer.arrayBuffer();
  return performance.now() - start;
}
"""

#: (number drawn, moment shown by this machine's clock) of the film's pictures as they are shown.
SHOWN = """
async ({ count }) => {
  const video = document.querySelector("video");
  const side = video.videoWidth / 32;
  const canvas = new OffscreenCanvas(video.videoWidth, Math.ceil(3 * side));
  const pen = canvas.getContext("2d", { alpha: false, willReadFrequently: true });
  const seen = [];
  while (seen.length < count) {
    await new Promise((shown) => video.requestVideoFrameCallback(shown));
    pen.drawImage(video, 0, 0);
    const atMs = performance.timeOrigin + performance.now();
    let number = 0;
    for (let place = 0; place < 10; place++) {
      const [shade] = pen.getImageData((1.5 + 2 * place) * side, 1.5 * side, 1, 1).data;
      if (shade > 128) number |= 1 << place;
    }
    seen.push([number, atMs]);
  }
  return seen;
}
"""


@dataclass
class Bench:
    """A service with a handset, and a script as its remote."""

    service: SecureService
    session: requests.Session
    handset: Page
    shot: str
    home: Path

    def press(self) -> tuple[float, float, bytes]:
        """(moment of the press in ms since 1970, seconds to the 201, the original's bytes)."""
        at_ms, start = time.time() * 1000, time.perf_counter()
        url = f"{self.service.url}/api/v1/shots/{self.shot}/exposures"
        answer = self.session.post(url, json={}, timeout=60)
        took = time.perf_counter() - start
        assert answer.status_code == 201, answer.text
        original = answer.json()["items"][0]["originals"][0]["url"]
        return at_ms, took, self.session.get(self.service.url + original, timeout=60).content

    def shown(self, count: int) -> list[tuple[int, float]]:
        """The film's next pictures as they are shown: number, and moment in ms since 1970."""
        return [(one, at) for one, at in self.handset.evaluate(SHOWN, {"count": count})]

    def pictures_from(self, source: str) -> None:
        url = f"{self.service.url}/api/v1/camera/settings"
        answer = self.session.patch(url, json={"picture_source": source}, timeout=60)
        assert answer.ok, answer.text


@pytest.fixture
def bench(chromium: Browser, tmp_path: Path) -> Iterator[Callable[[int, int], Bench]]:
    """Makes a bench with a film of that size."""
    with ExitStack() as stack:

        def make(width: int, height: int) -> Bench:
            film = make_film(tmp_path / "cork.mjpeg", width, height, FRAMES)
            service = stack.enter_context(SecureService(tmp_path, free_port()))
            home = trusting_home(tmp_path / "home", service.authority())
            session = stack.enter_context(service.session())
            browser = stack.enter_context(
                browser_at_home(chromium, home, *handset_arguments(film, "127.0.0.1"))
            )
            page = browser.new_page(viewport={"width": 390, "height": 844})
            page.goto(f"{service.url}/handset#code={service.code()}")
            expect(page.locator(".handset-state")).to_contain_text("ready", timeout=60_000)
            camera = f"{service.url}/api/v1/camera"
            until(lambda: session.get(camera, timeout=60).json()["state"] == "ready", 30)
            shots = f"{service.url}/api/v1/shots"
            shot = session.post(shots, json={"name": "bench"}, timeout=60).json()["id"]
            page.get_by_role("button", name="Go black").click()  # as it does by itself in use
            return Bench(service, session, page, shot, home)

        yield make


class Receives(BaseHTTPRequestHandler):
    """Takes what is put, and keeps nothing."""

    protocol_version = "HTTP/1.1"

    def do_GET(self) -> None:
        self._answer(b"<!doctype html><title>sink</title>")

    def do_PUT(self) -> None:
        self.rfile.read(int(self.headers["Content-Length"]))
        self._answer(b"")

    def _answer(self, body: bytes) -> None:
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: object) -> None:
        """In silence."""


@contextmanager
def sink(service: SecureService) -> Iterator[str]:
    """A bare HTTPS server under the same certificate; its address."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(service.certificates / "service.pem")
    server = ThreadingHTTPServer(("127.0.0.1", 0), Receives)
    server.daemon_threads = True
    server.socket = context.wrap_socket(server.socket, server_side=True)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"https://127.0.0.1:{server.server_address[1]}/"
    finally:
        server.shutdown()
        server.server_close()
        thread.join(5)


def film_start(shown: list[tuple[int, float]]) -> float:
    """When the film's picture 0 was taken at the latest, in ms since 1970: no picture can be shown
    before it was taken, so the quickest of them bounds the film's start."""
    first_number, first_ms = shown[0]
    start = first_ms - first_number * 1000 / FILM_RATE
    loop = FRAMES * 1000 / FILM_RATE
    best = start
    for number, at_ms in shown:
        lead = at_ms - number * 1000 / FILM_RATE - start
        best = min(best, start + (lead + loop / 2) % loop - loop / 2)
    return best


def taken_at(number: int, near_ms: float, start_ms: float) -> float:
    """When the picture of that number was taken, in the film's round nearest to a moment."""
    loop = FRAMES * 1000 / FILM_RATE
    at = start_ms + number * 1000 / FILM_RATE
    return at + round((near_ms - at) / loop) * loop


def test_frames_at_1080p_are_quick_and_from_after_the_press(
    bench: Callable[[int, int], Bench],
) -> None:
    room = bench(1920, 1080)
    room.pictures_from("video frame")
    room.press()
    presses, leads, ahead = [], [], []
    for _ in range(PRESSES):
        before = room.shown(2)
        presses.append(room.press())
        after = room.shown(4)  # around each press anew: a busy machine plays the film slower
        at_ms, took, picture = presses[-1]
        number = read_number(picture)
        ahead.append((number - before[-1][0] + FRAMES // 2) % FRAMES - FRAMES // 2)
        leads.append(taken_at(number, at_ms + took * 500, film_start(after)) - at_ms)
    times = [took * 1000 for _, took, _ in presses]
    table = Table(f"Handset, video frames at 1920×1080, n = {PRESSES}, over HTTPS")
    table.row("press to 201, median", median(times), "ms", 150 if LONG else 2500)
    table.row("press to 201, 95th percentile", percentile(times, 95), "ms")
    table.row("least lead on what was shown", min(ahead), "frames", 1, least=True)
    table.row("earliest picture after its press", min(leads), "ms", 0, least=True)
    table.row("size", len(presses[0][2]) / 1e6, "MB")
    table.hold()


def test_photos_cost_little_more_than_the_browser_and_the_way(
    bench: Callable[[int, int], Bench],
) -> None:
    room = bench(1920, 1080)
    room.pictures_from("photo")
    room.press()
    photo = base64.b64encode(room.press()[2]).decode()
    took, sent, presses = [], [], []
    with sink(room.service) as address:
        plain = room.handset.context.browser.new_page()
        plain.goto(address)
        plain.evaluate(BARE_UPLOAD, {"photo": photo})
        room.handset.bring_to_front()
        for _ in range(PHOTOS):  # in turns, so that all meet the same machine
            took.append(room.handset.evaluate(BARE_PHOTO))
            sent.append(plain.evaluate(BARE_UPLOAD, {"photo": photo}))
            presses.append(room.press()[1] * 1000)
    table = Table(f"Handset, the browser's own photos at 1920×1080, n = {PHOTOS}")
    table.row("takePhoto alone, median", median(took), "ms")
    table.row("bare upload of the same bytes, median", median(sent), "ms")
    table.row("press to 201, median", median(presses), "ms")
    ratio = median(presses) / (median(took) + median(sent))
    table.row("press / (photo + upload)", ratio, "×", 1.3 if LONG else 4)
    table.hold()


def test_live_view_from_a_handset(bench: Callable[[int, int], Bench]) -> None:
    room = bench(1280, 720)
    address = room.service.url.replace("https", "wss", 1) + "/api/v1/live"
    viewer = websocket.create_connection(
        address,
        header={"Authorization": room.session.headers["Authorization"]},
        sslopt={"ca_certs": room.session.verify},
        timeout=20,
    )
    received: list[tuple[bytes, float]] = []
    end = time.time() + SECONDS + 2
    begun = 0.0
    while time.time() < end:
        viewer.send("next")
        message = viewer.recv()
        now = time.time()
        begun = begun or now
        if now > begun + 1:  # the first second wakes the camera
            received.append((message, now * 1000))
    viewer.close()
    start = film_start(room.shown(60))
    ages = [at_ms - story(message)["at_ms"] for message, at_ms in received]
    seen = [(read_number(message), at_ms) for message, at_ms in received]
    true_ages = [at_ms - taken_at(number, at_ms, start) for number, at_ms in seen]
    told_wrong = [abs(told - true) for told, true in zip(ages, true_ages, strict=True)]
    rate = (len(seen) - 1) / (seen[-1][1] - seen[0][1]) * 1000
    table = Table(f"Live view from a handset at 1280×720, {SECONDS} s, over HTTPS")
    table.row("rate", rate, "fps", 24 if LONG else 3, least=True)
    table.row("age when received as told, p95", percentile(ages, 95), "ms", 150 if LONG else 2000)
    table.row("age by the film's clock, p95", percentile(true_ages, 95), "ms")
    table.row("told against the film's clock, p95", percentile(told_wrong, 95), "ms")
    table.hold()


def test_live_view_painted_on_a_remote(
    bench: Callable[[int, int], Bench], chromium: Browser
) -> None:
    room = bench(1280, 720)
    address = room.service.url.replace("https", "wss", 1) + "/api/v1/live"
    token = str(room.session.headers["Authorization"]).removeprefix("Bearer ")
    with browser_at_home(chromium, room.home) as browser:
        context = browser.new_context(viewport={"width": 390, "height": 844})
        where = {"domain": "127.0.0.1", "path": "/", "secure": True}
        context.add_cookies(
            [{"name": "standclear", "value": token, **where}]  # type: ignore[list-item]
        )
        page = context.new_page()
        page.goto(room.service.url + "/core/rate.js", wait_until="load")
        latencies = page.evaluate(PAINT, {"url": address, "seconds": SECONDS})
    steady = latencies[len(latencies) // 5 :]
    table = Table(f"Handset to painted on a remote, two Chromiums, 1280×720, {SECONDS} s, HTTPS")
    table.row("painted", len(latencies) / SECONDS, "fps", 24 if LONG else 2, least=True)
    table.row("taken to painted, median", median(steady), "ms")
    table.row("taken to painted, p95", percentile(steady, 95), "ms", 150 if LONG else 4000)
    table.hold()
