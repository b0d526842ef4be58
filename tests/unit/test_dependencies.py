"""What we stand on fits together, is free to use, and is the version that was asked for."""

import json
import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *words], capture_output=True, text=True, check=False, timeout=120
    )


def test_the_packages_fit_together() -> None:
    done = run("-m", "pip", "check")
    assert done.returncode == 0, done.stdout


def test_the_licence_of_all_that_runs_is_known_and_free() -> None:
    done = run(str(ROOT / "deploy" / "licences.py"))
    assert done.returncode == 0, done.stdout
    for name in ("flask", "numpy", "gphoto2", "sqlalchemy"):
        assert re.search(rf"^  {name} \S+: \S", done.stdout, re.MULTILINE), name


def test_the_web_tools_are_pinned_and_none_of_them_is_served() -> None:
    tools = json.loads((ROOT / "tests" / "webtools" / "package.json").read_text())
    assert "dependencies" not in tools
    for name, version in tools["devDependencies"].items():
        assert re.fullmatch(r"\d+\.\d+\.\d+", version), (name, version)
    assert not list((ROOT / "webclient").rglob("node_modules"))


def test_the_audit_is_part_of_the_tests() -> None:
    assert "deploy/audit.sh" in (ROOT / "deploy" / "test.sh").read_text()
