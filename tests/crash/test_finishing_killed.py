"""Exports killed at any moment, and a disk that fills up: no half film under the final name.

Short form: 6 kills. STANDCLEAR_LONG=1: 100.
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
from standclear.finishing.jobs import ExportDesk
from tests.outside.film_probe import counted_shot, decoded, read_counter

KILLS = 100 if os.environ.get("STANDCLEAR_LONG") == "1" else 6
LONGEST_S = 1.5
COUNT, SIZE = 40, (320, 240)

SHOT = """
import sys
from pathlib import Path
from standclear.finishing.options import ExportOptions
from standclear.finishing.shot import FilmExposure, FilmShot
paths = sorted(Path(sys.argv[1]).glob("cork-wakes_*.jpg"))
shot = FilmShot("Cork wakes", "12", tuple(FilmExposure(path) for path in paths))
"""

AT_THE_DESK = (
    SHOT
    + """
import threading
from standclear.clock import SystemClock
from standclear.finishing.jobs import ExportDesk
desk = ExportDesk(Path(sys.argv[2]), SystemClock())
options = ExportOptions.model_validate_json(sys.argv[3])
print(desk.submit("a", shot, options).id, flush=True)
threading.Event().wait()
"""
)

ON_A_FULL_DISK = (
    SHOT
    + """
import resource, signal
from standclear.finishing.api import export
from standclear.finishing.problems import TargetError
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[3]),) * 2)
try:
    export(shot, ExportOptions(), Path(sys.argv[2]))
except TargetError as error:
    print("refused:", error.detail, flush=True)
"""
)


def child(program: str, folder: Path, *words: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", program, str(folder), *words]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


def sums(folder: Path) -> list[str]:
    return [hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(folder.glob("*.jpg"))]


def killed_after(seconds: float, originals: Path, exports: Path, options: str) -> str:
    """Ask a desk of its own for an export and kill it; the export's id."""
    process = child(AT_THE_DESK, originals, str(exports), options)
    assert process.stdout is not None
    asked = process.stdout.readline().strip()
    timer = threading.Timer(seconds, process.send_signal, [signal.SIGKILL])
    timer.start()
    process.wait()
    timer.join()
    process.stdout.close()
    return asked


@pytest.mark.timeout(3600)
def test_killed_at_random_moments_no_half_file_bears_the_final_name(tmp_path: Path):
    originals, exports = tmp_path / "originals", tmp_path / "exports"
    originals.mkdir()
    counted_shot(originals, COUNT, size=SIZE)
    before = sums(originals)
    chance = random.Random(7)
    ends: list[JobState] = []
    for turn in range(KILLS):
        # Corrections lengthen the time before the film is begun; every other one does without.
        options = '{"light": {}, "position": {}}' if turn % 2 else "{}"
        asked = killed_after(chance.uniform(0, LONGEST_S), originals, exports, options)
        for film in exports.rglob("*.mp4"):
            if not film.name.startswith("."):
                assert [read_counter(p) for p in decoded(film, SIZE)] == list(range(COUNT))
        desk = ExportDesk(exports, SystemClock())  # the service starts again
        job = desk.get(asked)
        desk.close()
        assert job.state in (JobState.STOPPED, JobState.DONE)
        assert job.state is JobState.DONE or "Stopped by a restart" in job.says
        assert job.state is JobState.STOPPED or desk.file(asked).is_file()
        assert not list(exports.rglob("*.unfinished"))
        ends.append(job.state)
    assert JobState.STOPPED in ends
    print(
        f"{KILLS} kills: {ends.count(JobState.STOPPED)} stopped, {ends.count(JobState.DONE)} done"
    )
    assert sums(originals) == before


def test_a_disk_that_fills_up_in_the_middle_is_told(tmp_path: Path):
    # A limit on the file's size stands in for the full disk: both come as an error of write(2).
    originals = tmp_path / "originals"
    originals.mkdir()
    counted_shot(originals, COUNT, size=SIZE)
    process = child(ON_A_FULL_DISK, originals, str(tmp_path / "film.mp4"), "2000")
    told, _ = process.communicate(timeout=60)
    assert "refused: film.mp4 could not be written" in told
    assert [path.name for path in tmp_path.iterdir()] == ["originals"]
