"""Exports killed at any moment, and a disk that fills up: no half film under the final name.

Short form: 4 kills. STANDCLEAR_LONG=1: 100.
"""

import hashlib
import os
import random
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from standclear.clock import SystemClock
from standclear.finishing.job_states import JobState
from standclear.finishing.job_store import ExportJob, FolderStore
from standclear.finishing.jobs import ExportDesk
from tests.outside.film_probe import counted_shot, decoded, read_counter

KILLS = 100 if os.environ.get("STANDCLEAR_LONG") == "1" else 4
COUNT, SIZE = 40, (320, 240)

CHILD = """
import sys, resource, signal
from pathlib import Path
from standclear.finishing.api import ExportOptions, export
from standclear.finishing.problems import TargetError
from standclear.finishing.shot import FilmExposure, FilmShot
folder, target, limit = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
if limit:
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
paths = sorted(folder.glob("cork-wakes_*.jpg"))
shot = FilmShot("Cork wakes", "12", tuple(FilmExposure(path) for path in paths))
print("ready", flush=True)
try:
    export(shot, ExportOptions(), target)
except TargetError as error:
    print("refused:", error.detail, flush=True)
"""


def child(folder: Path, target: Path, limit: int = 0) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", CHILD, str(folder), str(target), str(limit)],
        stdout=subprocess.PIPE, text=True,
    )  # fmt: skip


def sums(folder: Path) -> list[str]:
    return [hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(folder.glob("*.jpg"))]


@pytest.mark.timeout(1800)
def test_killed_at_random_moments_no_half_file_bears_the_final_name(tmp_path: Path):
    originals = tmp_path / "originals"
    originals.mkdir()
    counted_shot(originals, COUNT, size=SIZE)
    before = sums(originals)
    exports = tmp_path / "exports"
    chance = random.Random(7)
    for turn in range(KILLS):
        folder = exports / f"job{turn}"
        folder.mkdir(parents=True)
        target = folder / "film.mp4"
        job = ExportJob(folder.name, "a", target.name, {}, "2026-01-01T00:00:00+00:00")
        FolderStore(exports).save(ExportJob(**{**job.as_json(), "state": JobState.WORKING}))
        process = child(originals, target)
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        timer = threading.Timer(chance.uniform(0, 0.5), process.send_signal, [signal.SIGKILL])
        timer.start()
        process.wait()
        timer.cancel()
        process.stdout.close()
        if target.exists():
            assert [read_counter(p) for p in decoded(target, SIZE)] == list(range(COUNT))
    desk = ExportDesk(exports, SystemClock())
    desk.close()
    assert {job.state for job in desk.list()} == {JobState.STOPPED}
    assert not list(exports.rglob("*.unfinished"))
    assert sums(originals) == before


def test_a_disk_that_fills_up_in_the_middle_is_told(tmp_path: Path):
    # A limit on the file's size stands in for the full disk: both come as an error of write(2).
    originals = tmp_path / "originals"
    originals.mkdir()
    counted_shot(originals, COUNT, size=SIZE)
    process = child(originals, tmp_path / "film.mp4", limit=2_000)
    told, _ = process.communicate(timeout=60)
    assert "refused: film.mp4 could not be written" in told
    assert [path.name for path in tmp_path.iterdir()] == ["originals"]
