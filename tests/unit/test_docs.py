"""The words stay true: every command, setting, event and resource is documented."""

import ast
import re
from fractions import Fraction
from pathlib import Path

from standclear.cli import main
from standclear.settings import PREFIX, ServeSettings
from standclear.timing.plan_text import parse_plan
from standclear.web.events import BEAT_S

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()
TELLERS = {"publish", "tell", "_tell"}


def events_told() -> set[str]:
    """The first argument of every publish() and tell() in the service, where it is text."""
    kinds = {"hello", "beat"}
    for path in (ROOT / "service").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if not isinstance(node, ast.Call) or not node.args:
                continue
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            first = node.args[0]
            if name in TELLERS and isinstance(first, ast.Constant) and isinstance(first.value, str):
                kinds.add(first.value)
    return kinds


def test_every_command_stands_in_the_readme() -> None:
    for name in main.commands:
        assert f"standclear {name}" in README, name


def test_every_setting_stands_in_the_readme_with_its_twin_and_default() -> None:
    for name, field in ServeSettings.model_fields.items():
        start = f"| `--{name}` | `{PREFIX}"
        row = next((line for line in README.splitlines() if line.startswith(start)), "")
        assert f"`{PREFIX}{name.upper()}`" in row, name
        default = str(field.default).replace(str(Path.home()), "~")
        assert default in row, (name, default)


def test_every_event_stands_in_the_developers_guide() -> None:
    documented = set(re.findall(r"^\| `([a-z_]+)` \|", DEVELOPERS, re.MULTILINE))
    told = events_told()
    assert told <= documented, told - documented
    assert f"every {BEAT_S:g} s" in DEVELOPERS


def test_every_dependency_has_its_reason() -> None:
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    for requirement in project["dependencies"]:
        name = re.split(r"[<>=\[ ]", requirement)[0]
        assert name.lower() in DEVELOPERS.lower(), name


def test_the_readme_opens_with_the_job_and_shows_a_picture_that_exists() -> None:
    opening = README.split("\n\n")[1]
    for word in ("phone", "frame", "camera", "film"):
        assert word in opening
    for picture in re.findall(r"!\[[^\]]*\]\(([^)]+)\)", README):
        path = ROOT / picture
        assert path.exists(), picture
        assert path.stat().st_size < 200_000, picture


def test_the_worked_example_counts_as_the_readme_says() -> None:
    typed = re.search(r"Type it under.*?```\n(.*?)```", README, re.DOTALL)
    assert typed
    plan = parse_plan(typed.group(1), Fraction(12))
    creep = next(span for span in plan.spans() if span.action.label.startswith("creep"))
    says = (
        f"{plan.frame_count / 12:g} s: {plan.frame_count} frames in {plan.exposure_count} exposures"
    )
    assert says in README
    assert f"takes {creep.exposures} of them" in README
