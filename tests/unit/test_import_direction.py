"""Imports run one way: web → shooting, finishing, paper → library, cameras → imaging, timing."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "service" / "standclear"

# Each part may import those named for it, and itself. The plain modules beside the parts
# (errors, clock, memory) are the ground that all but the pure parts stand on.
GROUND = {"errors", "clock", "memory"}
ALLOWED = {
    "timing": set(),
    "imaging": {"timing"},
    "cameras": {"imaging", "timing"} | GROUND,
    "library": {"cameras", "imaging", "timing"} | GROUND,
    "shooting": {"library", "cameras", "imaging", "timing"} | GROUND,
    "finishing": {"library", "cameras", "imaging", "timing"} | GROUND,
    "secure": GROUND,
    "nearby": set(),
    "paper": {"library", "cameras", "imaging", "timing"} | GROUND,
    "web": {"shooting", "finishing", "paper", "library", "cameras", "imaging", "timing"} | GROUND,
}
PURE_MAY_NOT = {"os", "io", "pathlib", "socket", "sqlite3", "subprocess", "time", "threading"}


def imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative imports hide the direction"
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


@pytest.mark.parametrize("part", sorted(ALLOWED))
def test_imports_run_one_way(part: str) -> None:
    for path in (PACKAGE / part).rglob("*.py"):
        for name in imported(path):
            if not name.startswith("standclear."):
                continue
            target = name.split(".")[1]
            fine = target == part or target in ALLOWED[part] or name == "standclear.__version__"
            assert fine, f"{path.relative_to(PACKAGE)} imports {name}"


@pytest.mark.parametrize("part", ["timing", "imaging"])
def test_the_pure_parts_touch_no_clock_file_or_socket(part: str) -> None:
    for path in (PACKAGE / part).rglob("*.py"):
        roots = {name.split(".")[0] for name in imported(path)}
        if path.name == "plan_csv.py":
            roots -= {"io"}  # io.StringIO: the csv module reads text through it
        assert not roots & PURE_MAY_NOT, f"{path.relative_to(PACKAGE)} imports {roots}"
        calls = {
            node.func.id
            for node in ast.walk(ast.parse(path.read_text()))
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        }
        assert "open" not in calls, f"{path.relative_to(PACKAGE)} opens a file"


def test_nothing_imports_the_web_layer_but_the_entry() -> None:
    for path in PACKAGE.rglob("*.py"):
        inside = path.relative_to(PACKAGE)
        if inside.parts[0] == "web" or inside.name in ("cli.py", "serving.py"):
            continue
        assert not any(name.startswith("standclear.web") for name in imported(path)), inside
