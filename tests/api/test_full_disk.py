"""A full disk, on a small file system of its own: a clear Problem, nothing lost, nothing torn."""

import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.pictures import jpeg, padded
from tests.service import ServiceProcess

DISK_MB = 24
PICTURE_BYTES = 1_500_000


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of a few megabytes."""
    place = tmp_path / "disk"
    place.mkdir()
    if os.geteuid() != 0:
        pytest.skip("needs root to mount a small file system")
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={DISK_MB}m", "tmpfs", str(place)],
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        pytest.skip(f"no small file system to be had: {done.stderr.strip()}")
    yield place
    subprocess.run(["umount", str(place)], check=True)


def test_a_full_disk_is_said_before_anything_is_exposed(small_disk: Path, tmp_path: Path) -> None:
    sees = tmp_path / "sees"
    sees.mkdir()
    (sees / "view.jpg").write_bytes(padded(jpeg(640, 360, seed=1), PICTURE_BYTES))
    environment = {"VCAMERADIR": str(sees)}
    with ServiceProcess(small_disk / "library", "tethered", env=environment) as service:
        api = service.api()
        api.wait_for_camera()
        shot = api.ok("POST", "/shots", json={"name": "cork"})["id"]
        kept = 0
        for _ in range(40):
            answer = api.call("POST", f"/shots/{shot}/exposures", json={})
            if answer.status_code != 201:
                break
            kept += 1
        assert answer.status_code == 507
        assert answer.json()["code"] == "disk_full"
        assert kept >= 3
        assert api.ok("GET", f"/shots/{shot}")["exposure_count"] == kept
        last = api.ok("GET", f"/shots/{shot}/exposures?limit=100")["items"][-1]
        original = api.session.get(service.url + last["originals"][0]["url"], timeout=30)
        assert len(original.content) == PICTURE_BYTES
        assert service.stop() == 0
        api.close()
