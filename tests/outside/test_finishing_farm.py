"""The same work on other machines gives the same bytes, even when one of them dies."""

import json
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from standclear.cameras.base import Taken
from standclear.cli import main
from standclear.clock import SystemClock
from standclear.finishing.api import ExportOptions, export
from standclear.finishing.farm import Farm
from standclear.finishing.problems import CannotExport
from standclear.finishing.report import Progress
from standclear.library.library import Library
from tests.library_kit import original
from tests.outside.film_probe import counted_shot

pytest.importorskip("distributed", reason="needs standclear[farm]")

WAIT_S = 60


class Machines:
    """A scheduler and its workers, each a process of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.running: list[subprocess.Popen[str]] = []
        lines = self.start("dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard")
        self.address = next(
            word for line in lines for word in line.split() if word.startswith("tcp://127")
        )
        for _ in range(2):
            next(
                line
                for line in self.start("dask_worker", self.address, "--no-nanny", "--nthreads", "1")
                if "Registered to" in line
            )

    def start(self, program: str, *words: str) -> Iterator[str]:
        process = subprocess.Popen(
            [sys.executable, "-m", f"distributed.cli.{program}", *words],
            stderr=subprocess.PIPE, text=True, cwd=self.folder,
        )  # fmt: skip
        self.running.append(process)
        assert process.stderr is not None
        return iter(process.stderr.readline, "")

    def stop(self) -> None:
        for process in reversed(self.running):
            process.kill()
            process.wait(WAIT_S)
            assert process.stderr is not None
            process.stderr.close()


@pytest.fixture(scope="module")
def machines(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Machines]:
    """Shared, since they start slowly; the test that kills one comes last."""
    started = Machines(tmp_path_factory.mktemp("farm"))
    yield started
    started.stop()


def test_no_scheduler_at_the_address_is_told():
    with pytest.raises(CannotExport, match="No scheduler answers"):
        Farm("tcp://127.0.0.1:9", timeout_s=0.5)


def test_a_damaged_original_is_told_from_afar(machines: Machines, tmp_path: Path):
    shot = counted_shot(tmp_path, 3)
    shot.exposures[1].path.write_bytes(b"\xff\xd8\xff")
    report = export(shot, ExportOptions(format="png"), tmp_path / "f.zip", on=machines.address)
    assert "Exposure 2" in report.notes[0]


def test_the_command_line_hands_the_work_to_a_scheduler(machines: Machines, tmp_path: Path):
    pictures = counted_shot(tmp_path, 3).exposures
    with Library.open(tmp_path / "library", SystemClock()) as library:
        shot = library.create_shot("cork wakes").id
        for one in pictures:
            data = original(one.path.read_bytes(), "jpg", 320, 240)
            library.keep(shot, Taken((data,), library.shot(shot).created_at, {}), camera="toy")
    words = ["export", "cork wakes", str(tmp_path / "f.zip"), "--format", "png", "--json"]
    where = ["--library", str(tmp_path / "library"), "--on", machines.address]
    done = CliRunner().invoke(main, words + where)
    assert done.exit_code == 0, done.stderr
    assert json.loads(done.stdout)["frames"] == 3
    refused = CliRunner().invoke(main, [*words, *where[:3], "nowhere"])
    assert refused.exit_code != 0
    assert "No scheduler answers at nowhere" in refused.stderr


def test_a_worker_killed_in_the_middle_changes_no_byte(machines: Machines, tmp_path: Path):
    shot = counted_shot(tmp_path, 40)
    options = ExportOptions(format="png")
    export(shot, options, tmp_path / "here.zip")
    killed: list[int] = []

    def kill_one(progress: Progress) -> None:
        if progress.frames_done >= 10 and not killed:
            machines.running[1].kill()
            killed.append(progress.frames_done)

    export(shot, options, tmp_path / "there.zip", kill_one, on=machines.address)
    assert killed
    with zipfile.ZipFile(tmp_path / "there.zip") as archive:
        assert len(archive.namelist()) == 40
    assert (tmp_path / "here.zip").read_bytes() == (tmp_path / "there.zip").read_bytes()
