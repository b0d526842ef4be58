"""The README's commands run as they stand, against a real service."""

import os
import re
import subprocess
import sys
from pathlib import Path

from tests.service import ServiceProcess

ROOT = Path(__file__).resolve().parents[2]


def script_of_readme() -> str:
    """The shell block under "By script"."""
    readme = (ROOT / "README.md").read_text()
    found = re.search(r"## By script\n\n```sh\n(.*?)```", readme, re.DOTALL)
    assert found
    return found.group(1)


def test_the_three_curl_lines_take_a_picture(tmp_path: Path) -> None:
    with ServiceProcess(tmp_path / "library") as service:
        port = service.url.rsplit(":", 1)[1]
        token = f"{sys.executable} -m standclear.cli token"
        script = script_of_readme().replace(".venv/bin/standclear token", token)
        assert "8422" in script
        api = service.api()
        api.wait_for_camera()
        done = subprocess.run(
            ["sh", "-eu", "-c", script.replace("8422", port)],
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
            env={**os.environ, "STANDCLEAR_LIBRARY": str(service.library)},
        )
        assert done.returncode == 0, done.stderr
        assert '"number":1' in done.stdout.replace(" ", "")
        shots = api.ok("GET", "/shots")["items"]
        assert [(shot["name"], shot["exposure_count"]) for shot in shots] == [("cork wakes", 1)]
        api.close()
