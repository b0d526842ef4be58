"""Fuzzing with a fixed budget: no input makes a reader fail in a way that it does not promise.

``STANDCLEAR_LONG=1`` fuzzes each target for ten minutes. A fault prints its input in hexadecimal,
which then becomes a test of its own beside the reader's others.
"""

import importlib.util
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.bench.tables import LONG

ROOT = Path(__file__).resolve().parents[2]
SECONDS = 600 if LONG else 8
pytestmark = pytest.mark.skipif(
    importlib.util.find_spec("atheris") is None, reason="Atheris has no wheel for this Python"
)


@pytest.mark.timeout(SECONDS + 240)
@pytest.mark.parametrize("target", ["fuzz_plan", "fuzz_intake", "fuzz_recover"])
def test_no_input_is_unforeseen(target: str, tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", f"tests.fuzz.{target}", f"-max_total_time={SECONDS}", "-seed=7"],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
        timeout=SECONDS + 200,
        env={"PATH": "/usr/bin:/bin", "TMPDIR": str(tmp_path), "HOME": str(tmp_path)},
    )
    crashes = {path.name: path.read_bytes().hex() for path in tmp_path.glob("crash-*")}
    assert done.returncode == 0, (done.stdout + done.stderr)[-5000:] + str(crashes)
    runs = re.search(r"stat::number_of_executed_units:\s*(\d+)", done.stderr)
    assert runs
    assert int(runs.group(1)) > 100, "it really ran"
    print(f"{target}: {runs.group(1)} inputs in {SECONDS} s")
