"""Press to 201 on the virtual PTP camera, 24 megapixels, 8 MB, against a bare loop in one run.

Both write new files only, and what they write was touched before: overwriting, or memory that a
virtual machine gets from its host for the first time, moves a write of 8 MB between 2 and 12 ms.
"""

import http.client
import os
import subprocess
import sys
import time
from pathlib import Path

from tests.bench.tables import LONG, Table, median, percentile
from tests.pictures import large_jpeg
from tests.service import ServiceProcess

COUNT = 50 if LONG else 12
TURNS = 5 if LONG else 2  # both by turns, so that both meet the same machine
GOAL = 1.25
# The short form runs beside other work, on a few pictures: it fails on a blunder, not on noise.
SHORT_GOAL = 4.0


def touch(folder: Path, picture: bytes, count: int) -> None:
    """Let the system have the memory for so many files before anything is measured."""
    files = [folder / f"{number}.jpg" for number in range(count)]
    for file in files:
        file.write_bytes(picture)
    os.sync()
    for file in files:
        file.unlink()


def bare_times(sees: Path, folder: Path, count: int) -> list[float]:
    """Seconds of each picture; ``folder`` is made."""
    folder.mkdir()
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.bare_loop", str(folder), str(count)],
        env={**os.environ, "VCAMERADIR": str(sees)},
        capture_output=True,
        text=True,
        check=True,
        timeout=600,
    )
    return [float(line) for line in done.stdout.split()]


def press_times(service: ServiceProcess, token: str, shot: str, count: int) -> list[float]:
    host, port = service.url.removeprefix("http://").split(":")
    connection = http.client.HTTPConnection(host, int(port), timeout=60)
    headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}
    times = []
    for _ in range(count):
        start = time.perf_counter()
        connection.request("POST", f"/api/v1/shots/{shot}/exposures", b"{}", headers)
        answer = connection.getresponse()
        answer.read()
        times.append(time.perf_counter() - start)
        assert answer.status == 201
    connection.close()
    return times


def test_press_to_kept_against_a_bare_loop(tmp_path: Path) -> None:
    sees = tmp_path / "sees"
    sees.mkdir()
    picture = large_jpeg(1)
    (sees / "view.jpg").write_bytes(picture)
    bares: list[float] = []
    presses: list[float] = []
    with ServiceProcess(tmp_path / "library", "tethered", env={"VCAMERADIR": str(sees)}) as service:
        api = service.api()
        api.wait_for_camera()
        shot = api.ok("POST", "/shots", json={"name": "bench"})["id"]
        token = str(api.session.headers["Authorization"]).split()[1]
        press_times(service, token, shot, 2)
        touch(tmp_path, picture, 4 * COUNT)
        for turn in range(TURNS):
            bares += bare_times(sees, tmp_path / f"bare{turn}", COUNT // TURNS + 1)[1:]
            presses += press_times(service, token, shot, COUNT // TURNS)
        kept = api.ok("GET", f"/shots/{shot}/exposures?limit=1")["items"][0]["originals"][0]
        assert api.session.get(service.url + kept["url"], timeout=60).content == picture
        api.close()
    table = Table(
        f"Press to 201, virtual PTP camera, {len(picture) / 1e6:.0f} MB, n = {len(presses)}"
    )
    table.row("bare loop, median", median(bares) * 1000, "ms")
    table.row("press to 201, median", median(presses) * 1000, "ms")
    table.row("press to 201, 95th percentile", percentile(presses, 95) * 1000, "ms")
    table.row(
        "press / bare loop", median(presses) / median(bares), "×", GOAL if LONG else SHORT_GOAL
    )
    table.hold()
