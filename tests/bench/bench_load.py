"""The set at its busiest: 20 remotes, 8 viewers, a capture every second, exports without a pause.

Nothing may fail or get lost, memory and threads stay flat, and the live view keeps its rate.
"""

import json
import subprocess
import sys
import threading
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import psutil

from tests.bench.tables import LONG, Table, median, percentile
from tests.service import Api, ServiceProcess

SECONDS = 600 if LONG else 20
REMOTES = 20
VIEWERS = 8
FIRST = 12
SAMPLE_S = 0.5


@dataclass
class Samples:
    """What the service's process took, twice a second."""

    memory_mb: list[float] = field(default_factory=list)
    threads: list[int] = field(default_factory=list)
    files: list[int] = field(default_factory=list)

    def take(self, process: psutil.Process) -> None:
        """One more sample."""
        self.memory_mb.append(process.memory_info().rss / 1e6)
        self.threads.append(process.num_threads())
        self.files.append(process.num_fds())


def grown(values: list[Any]) -> float:
    """By how much the last quarter's middle exceeds the second quarter's: the first warms up."""
    quarter = len(values) // 4
    return float(median(values[-quarter:]) - median(values[quarter : 2 * quarter]))


def child(module: str, *words: object) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", f"tests.bench.{module}", *map(str, words)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


class Exporting(threading.Thread):
    """Asks for one film after another; counts them."""

    def __init__(self, api: Api, shot: str) -> None:
        super().__init__(name="exporting")
        self._api, self._shot = api, shot
        self.over = threading.Event()
        self.done = 0
        self.failed: list[str] = []

    def run(self) -> None:
        wish = {"format": "h264", "light": {}, "time": {"range": {"first": 1, "last": FIRST}}}
        while not self.over.is_set():
            job = self._api.ok("POST", f"/shots/{self._shot}/exports", json=wish)
            while job["state"] not in ("done", "failed", "stopped"):
                if self.over.wait(0.2):
                    return
                job = self._api.ok("GET", f"/exports/{job['id']}")
            if job["state"] == "done":
                self.done += 1
            else:
                self.failed.append(str(job["problem"]))
            self._api.ok("DELETE", f"/exports/{job['id']}")


def busy(service: ServiceProcess, api: Api, shot: str) -> tuple[Any, Any, Samples, Exporting]:
    """The load, and what was seen of it by crowd, viewers, process and export."""
    token = str(api.session.headers["Authorization"]).split()[1]
    exporting = Exporting(service.api(token), shot)
    exporting.start()
    crowd = child("load_crowd", service.url, token, shot, REMOTES, SECONDS)
    viewers = child("load_viewers", service.url, token, VIEWERS, SECONDS)
    samples, process = Samples(), psutil.Process(service.process.pid)
    while crowd.poll() is None:
        samples.take(process)
        exporting.over.wait(SAMPLE_S)
    told, rates = crowd.communicate()[0], viewers.communicate(timeout=60)[0]
    exporting.over.set()
    exporting.join()
    return json.loads(told), json.loads(rates), samples, exporting


def numbers_of(api: Api, shot: str) -> list[str]:
    """The shot's exposures in order, all pages."""
    ids: list[str] = []
    after: str | None = ""
    while after is not None:
        page = api.ok(
            "GET", f"/shots/{shot}/exposures?limit=500" + (f"&after={after}" if after else "")
        )
        ids += [item["id"] for item in page["items"]]
        after = page["next"]
    return ids


def originals_well(service: ServiceProcess) -> Any:
    """`standclear check` on the library, after the service has gone."""
    command = [sys.executable, "-m", "standclear.cli", "check", "--json", "--library"]
    done = subprocess.run(
        [*command, str(service.library)], capture_output=True, text=True, check=False, timeout=600
    )
    return json.loads(done.stdout)


def test_the_busiest_set(tmp_path: Path) -> None:
    with ServiceProcess(tmp_path / "library") as service:
        api = service.api()
        api.wait_for_camera()
        shot = api.ok("POST", "/shots", json={"name": "the cork and its crowd"})["id"]
        api.ok("POST", f"/shots/{shot}/exposures", json={"count": FIRST})
        crowd, rates, samples, exporting = busy(service, api, shot)
        there = numbers_of(api, shot)
        api.close()
        assert service.stop() == 0
        log = service.output()
    lost = set(crowd["kept"]) - set(there)
    checked = originals_well(service)
    table = Table(
        f"{REMOTES} remotes, {VIEWERS} viewers, a capture a second for {SECONDS} s, films made"
    )
    table.row("exposures acknowledged", len(crowd["kept"]), "", SECONDS, least=True)
    table.row("errors met by a remote", len(crowd["errors"]), "", 0)
    table.row("acknowledged but lost", len(lost), "", 0)
    table.row("on disk, whole", checked["originals"], "", SECONDS + FIRST, least=True)
    table.row("press to kept, median", median(crowd["press_ms"]), "ms")
    table.row("press to kept, p95", percentile(crowd["press_ms"], 95), "ms")
    table.row("told that the camera is busy", crowd["busy"], "")
    table.row("events told", crowd["events"], "")
    table.row("films finished", exporting.done, "", 1, least=True)
    table.row("films failed", len(exporting.failed), "", 0)
    table.row(
        "live view, slowest viewer",
        min(one["fps"] for one in rates),
        "fps",
        25 if LONG else 5,
        least=True,
    )
    table.row("live view, its worst sixth", min(one["worst"] for one in rates), "fps")
    table.row("memory, at most", max(samples.memory_mb), "MB", 1100)
    table.row(
        "memory grown after the first quarter", grown(samples.memory_mb), "MB", 25 if LONG else 150
    )
    table.row("threads", max(samples.threads), "")
    table.row("threads grown", grown(samples.threads), "", 2 if LONG else 12)
    table.row("open files grown", grown(samples.files), "", 4 if LONG else 12)
    table.print()
    assert checked["well"], checked
    assert "Traceback" not in log, log[-3000:]
    assert not crowd["errors"], crowd["errors"][:5]
    table.hold()
