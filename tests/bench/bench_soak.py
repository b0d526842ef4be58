"""A long day on the cable: thousands of captures through libgphoto2's virtual PTP camera.

Its card is full after 26 pictures (measured), so the driver meets a full card again and again. What
was acknowledged must be there byte for byte, and memory, threads and open files stay flat.
"""

import hashlib
from pathlib import Path

import psutil

from tests.bench.bench_load import Samples, grown, numbers_of, originals_well
from tests.bench.tables import LONG, Table, median, percentile
from tests.pictures import comment, jpeg, padded
from tests.service import ServiceProcess

CAPTURES = 2000 if LONG else 80
BYTES = 60_000  # of one size: the virtual camera notes a file's size once, when it is opened


class Scene:
    """What the camera sees: another picture each time."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir()
        self._path = folder / "view.jpg"
        self._body = jpeg(640, 360, seed=2)
        self.lay(0)

    def lay(self, number: int) -> str:
        """Lay picture ``number`` before the camera; its SHA-256."""
        data = padded(comment(self._body, b"picture %06d" % number), BYTES)
        self._path.write_bytes(data)
        return hashlib.sha256(data).hexdigest()


def test_a_long_day_on_the_cable(tmp_path: Path) -> None:
    scene = Scene(tmp_path / "sees")
    env = {"VCAMERADIR": str(tmp_path / "sees")}
    laid: list[str] = []
    kept: list[str] = []
    samples, took = Samples(), []
    with ServiceProcess(tmp_path / "library", "tethered", env=env) as service:
        api = service.api()
        api.wait_for_camera()
        process = psutil.Process(service.process.pid)
        shot = api.ok("POST", "/shots", json={"name": "the cork's long day"})["id"]
        for number in range(CAPTURES):
            laid.append(scene.lay(number))
            answer = api.call("POST", f"/shots/{shot}/exposures", json={})
            assert answer.status_code == 201, (number, answer.text)
            took.append(answer.elapsed.total_seconds() * 1000)
            item = answer.json()["items"][0]
            kept.append(item["originals"][0]["sha256"])
            if number % 10 == 0:
                samples.take(process)
        there = len(numbers_of(api, shot))
        api.close()
        assert service.stop() == 0
        log = service.output()
    checked = originals_well(service)
    table = Table(f"{CAPTURES} captures through libgphoto2's virtual camera")
    table.row("captures acknowledged", len(kept), "", CAPTURES, least=True)
    table.row("in the shot", there, "", CAPTURES, least=True)
    table.row("originals whole on disk", checked["originals"], "", CAPTURES, least=True)
    table.row("other than what the camera saw", sum(map(str.__ne__, laid, kept)), "", 0)
    table.row("press to kept, median", median(took), "ms")
    table.row("press to kept, p99", percentile(took, 99), "ms")
    table.row("memory", samples.memory_mb[-1], "MB")
    table.row("memory grown", grown(samples.memory_mb), "MB", 25 if LONG else 60)
    table.row("threads grown", grown(samples.threads), "", 2)
    table.row("open files grown", grown(samples.files), "", 4)
    table.print()
    assert checked["well"], checked
    assert "Traceback" not in log, log[-3000:]
    table.hold()
