"""What the service needs of a small computer: memory and processor, held to one core.

    python -m pytest tests/bench/bench_one_core.py -s

The camera is a film of 1280×720 at 30 a second, played as a webcam would deliver it: reading and
decoding it is part of the bill, as a webcam's is. The figures are of the machine that runs this; a
small board's core is slower, by three to five times (common practice, no source), so the goals
leave that much room where the work must keep up with the clock.
"""

import http.client
import json
import subprocess
import sys
import threading
import time
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import psutil
import pytest

from tests.bench.tables import LONG, Table, median, percentile
from tests.service import Api, ServiceProcess
from tests.waiting import until

SECONDS = 20.0 if LONG else 4.0
PRESSES = 24 if LONG else 6
FILM_SECONDS = 120 if LONG else 60
RATE = 30
SIZE = (1280, 720)
MEMORY_MB = 600  # leaves room on a computer of 1 GB
ROOM = 4  # a small board's core against this one


@dataclass
class Load:
    """Of one core, in per cent, and the memory that is resident at the end, in MB."""

    percent: float
    memory_mb: float


def film(path: Path) -> Path:
    """A set that rests, with a little noise and an object that moves."""
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"mp4v"), RATE, SIZE)
    random = np.random.default_rng(7)
    ground = cv2.GaussianBlur(random.integers(0, 256, (*SIZE[::-1], 3), np.uint8), (0, 0), 6)
    ground = cv2.convertScaleAbs(ground, alpha=2.0, beta=-130)
    for number in range(FILM_SECONDS * RATE):
        picture = ground.copy()
        cv2.circle(picture, (300 + number % 600, 420), 60, (90, 140, 190), -1)
        writer.write(picture)
    writer.release()
    return path


def load(process: psutil.Process, seconds: float) -> Load:
    """What the process uses from now on for so long."""
    before, began = process.cpu_times(), time.monotonic()
    threading.Event().wait(seconds)
    after, lasted = process.cpu_times(), time.monotonic() - began
    used = after.user + after.system - before.user - before.system
    return Load(100 * used / lasted, process.memory_info().rss / 1e6)


def looked_at(service: ServiceProcess, token: str, process: psutil.Process) -> tuple[Load, float]:
    """The load while a phone takes the live view, as a program of its own, and its pictures a
    second."""
    command = [sys.executable, "-m", "tests.bench.live_viewer", "ws", service.url, token]
    with subprocess.Popen(
        [*command, str(SECONDS + 1)], stdout=subprocess.PIPE, text=True
    ) as watching:
        seen = load(process, SECONDS)
        told, _ = watching.communicate(timeout=60)
    return seen, float(json.loads(told)["fps"])


def press_times(service: ServiceProcess, token: str, shot: str) -> list[float]:
    """Seconds from the press to 201."""
    host, port = service.url.removeprefix("http://").split(":")
    connection = http.client.HTTPConnection(host, int(port), timeout=60)
    headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}
    times = []
    for _ in range(PRESSES):
        begun = time.perf_counter()
        connection.request("POST", f"/api/v1/shots/{shot}/exposures", b"{}", headers)
        answer = connection.getresponse()
        says = answer.read()
        times.append(time.perf_counter() - begun)
        assert answer.status == 201, says
    connection.close()
    return times


def judged_after(api: Api, shot: str) -> float:
    """Seconds until the watches have looked at all exposures."""
    begun = time.monotonic()
    path = f"/shots/{shot}/exposures?limit=100"
    until(lambda: all(one["verdict"] for one in api.ok("GET", path)["items"]), 120)
    return time.monotonic() - begun


def test_what_it_takes_on_one_core(tmp_path: Path) -> None:
    if not hasattr(psutil.Process, "cpu_affinity"):
        pytest.skip("this system cannot hold a process to one core")
    camera = f"webcam:{film(tmp_path / 'set.mp4')}"
    table = Table(f"The service on one core, 1280×720 at {RATE} a second, {SECONDS:.0f} s a row")
    with ServiceProcess(tmp_path / "library", camera, prefix=("taskset", "-c", "0")) as service:
        process = psutil.Process(service.process.pid)
        times = process.cpu_times()
        table.row("from start to taking requests: processor time", sum(times[:2]), "s", 30 / ROOM)
        assert process.cpu_affinity() == [0]
        api = service.api()
        api.wait_for_camera()
        measured(table, service, api, process)
        api.close()
    table.hold()


def measured(table: Table, service: ServiceProcess, api: Api, process: psutil.Process) -> None:
    """Idle, one phone that looks, presses, and the watches behind them."""
    token = str(api.session.headers["Authorization"]).split()[1]
    shot = str(api.ok("POST", "/shots", json={"name": "small", "frame_rate": "12"})["id"])
    idle = load(process, SECONDS)
    table.row("nobody looks: processor", idle.percent, "%", 100 / ROOM)
    table.row("nobody looks: memory", idle.memory_mb, "MB", MEMORY_MB)
    seen, rate = looked_at(service, token, process)
    table.row("one phone takes the live view: pictures", rate, "/s", 12, least=True)
    table.row("one phone takes the live view: processor", seen.percent, "%", 3 * 100 / ROOM)
    table.row("one phone takes the live view: memory", seen.memory_mb, "MB", MEMORY_MB)
    # Independent of what else runs on this machine:
    table.row("processor time for each live picture", 10 * seen.percent / rate, "ms", 33 / ROOM)
    times = press_times(service, token, shot)
    table.row("press to 201, median", 1000 * median(times), "ms", 1000)
    table.row("press to 201, 95th percentile", 1000 * percentile(times, 95), "ms", 2000)
    table.row(f"then all {PRESSES} judged by the watches", judged_after(api, shot), "s", 60)
    after = process.memory_info().rss / 1e6
    table.row("after that: memory", after, "MB", MEMORY_MB)
