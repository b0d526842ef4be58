"""Live view at 1280×720: rate, latency, CPU and memory, with one and with sixteen viewers.

Compared with multipart MJPEG made of the same pictures by the same process in the same run.
"""

import json
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psutil
import pytest
from playwright.sync_api import Browser

from tests.bench.tables import LONG, Table, median, percentile
from tests.service import ServiceProcess

SECONDS = 20 if LONG else 4
VIEWERS = 16 if LONG else 4


@dataclass
class Watched:
    """What the viewers saw, and what it cost the service."""

    viewers: list[Any]
    cpu_percent: float
    grown_mb: float


class LiveServer(ServiceProcess):
    """The service with the multipart route beside it."""

    @staticmethod
    def command(library: Path, camera: str, *more: str) -> list[str]:
        """What Python runs."""
        return ["-m", "tests.bench.live_server", str(library)]


def start(
    service: ServiceProcess, token: str, pause: float = 0, kind: str = "ws"
) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "tests.bench.live_viewer", kind, service.url, token]
    command += [str(SECONDS), str(pause)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


def watch(service: ServiceProcess, token: str, pauses: list[float], kind: str = "ws") -> Watched:
    process = psutil.Process(service.process.pid)
    viewers = [start(service, token, pause, kind) for pause in pauses]
    before_cpu, before_memory = sum(process.cpu_times()[:2]), process.memory_info().rss
    results = [json.loads(viewer.communicate(timeout=SECONDS + 90)[0]) for viewer in viewers]
    used = sum(process.cpu_times()[:2]) - before_cpu
    grown = (process.memory_info().rss - before_memory) / 1e6
    return Watched(results, used / SECONDS * 100, grown)


@pytest.fixture
def service(tmp_path: Path) -> Any:
    with LiveServer(tmp_path / "library") as service:
        yield service


def test_one_and_many_viewers(service: ServiceProcess) -> None:
    api = service.api()
    api.wait_for_camera()
    token = str(api.session.headers["Authorization"]).split()[1]
    watch(service, token, [0])  # warms caches and threads
    one = watch(service, token, [0])
    plain = watch(service, token, [0], "multipart")
    many = watch(service, token, [1.0] + [0] * (VIEWERS - 1))
    api.close()
    others = many.viewers[1:]
    table = Table(f"Live view 1280×720, {SECONDS} s, all on one machine")
    table.row("one viewer, rate", one.viewers[0]["fps"], "fps", 29 if LONG else 10, least=True)
    table.row("one viewer, p95", one.viewers[0]["p95"], "ms", 6 if LONG else 200)
    table.row("one viewer, service's CPU", one.cpu_percent, "% of a core")
    table.row("multipart MJPEG, one viewer, p95", plain.viewers[0]["p95"], "ms")
    table.row("multipart MJPEG, service's CPU", plain.cpu_percent, "% of a core")
    fps = min(viewer["fps"] for viewer in others)
    p95 = max(viewer["p95"] for viewer in others)
    name = f"{VIEWERS} viewers, one slow"
    table.row(f"{name}: slowest of the others", fps, "fps", 29 if LONG else 5, least=True)
    table.row(f"{name}: worst p95 of the others", p95, "ms", 10 if LONG else 400)
    table.row(f"{name}: slow viewer's p95", many.viewers[0]["p95"], "ms", 100 if LONG else 2000)
    table.row(f"{name}: service's CPU", many.cpu_percent, "% of a core", 30 if LONG else 150)
    table.row(f"{name}: memory grown", many.grown_mb, "MB", 30)
    table.hold()


PAINT = """
async ({ url, seconds }) => {
  const canvas = document.createElement("canvas");
  document.body.append(canvas);
  const off = canvas.transferControlToOffscreen();
  const worker = new Worker("/core/live-worker.js", { type: "module" });
  const latencies = [];
  worker.onmessage = ({ data }) => {
    if (data.kind === "painted") latencies.push(data.paintedMs - data.header.at_ms);
  };
  worker.postMessage({ does: "canvas", canvas: off, url }, [off]);
  worker.postMessage({ does: "start", width: 1280, shot: "" });
  await new Promise((done) => setTimeout(done, seconds * 1000));
  worker.terminate();
  return latencies;
}
"""


def test_frame_to_painted_in_chromium(service: ServiceProcess, chromium: Browser) -> None:
    api = service.api()
    api.wait_for_camera()
    token = str(api.session.headers["Authorization"]).split()[1]
    api.close()
    context = chromium.new_context(viewport={"width": 390, "height": 844})
    host = service.url.removeprefix("http://").split(":")[0]
    cookie = {"name": "standclear", "value": token, "domain": host, "path": "/"}
    context.add_cookies([cookie])  # type: ignore[list-item]
    page = context.new_page()
    page.goto(service.url + "/core/rate.js", wait_until="load")
    live = service.url.replace("http", "ws", 1) + "/api/v1/live"
    latencies = page.evaluate(PAINT, {"url": live, "seconds": SECONDS})
    context.close()
    steady = latencies[len(latencies) // 5 :]
    table = Table(f"Live view in Chromium, worker and OffscreenCanvas, {SECONDS} s")
    table.row("painted", len(latencies) / SECONDS, "fps", 28 if LONG else 3, least=True)
    table.row("frame to painted, median", median(steady), "ms")
    table.row("frame to painted, p95", percentile(steady, 95), "ms", 30 if LONG else 1000)
    table.hold()
