"""The house stays one that a stranger can read: small files, short functions, first lines that say
what the file is about. What may be longer stands here with its reason."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MOST_LINES = 400
MOST_FUNCTION = 40  # what a laptop's editor shows without scrolling
MOST_SCENARIO = 50  # a test that tells one story from its beginning to its end

#: File → why it may be longer than all others.
LONG_FILES: dict[str, str] = {}

#: Function → why it may be longer than all others.
LONG_FUNCTIONS: dict[str, str] = {}


def files(*endings: str) -> list[Path]:
    """All of ours with these endings."""
    found = [
        path
        for folder in ("service", "webclient", "tests", "deploy")
        for path in sorted((ROOT / folder).rglob("*"))
        if path.suffix in endings and "node_modules" not in path.parts
    ]
    assert found
    return found


def named(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def python_functions(path: Path) -> Iterator[tuple[str, int]]:
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node.name, (node.end_lineno or node.lineno) - node.lineno + 1


SCRIPT_FUNCTION = re.compile(
    r"^( *)(?:export )?(?:default )?(?:async )?(?:"
    r"function\*? (\w+)\(|"  # a function
    r"(?:static |get |set |async |\*)*(#?\w+)\([^;]*\) \{$|"  # a method
    r"(?:const|let) (\w+) = (?:async )?\([^)]*\) => \{$)"  # a named arrow
)
NO_FUNCTION = {"if", "for", "while", "switch", "catch"}


def script_functions(path: Path) -> Iterator[tuple[str, int]]:
    """A function ends with the first closing brace at its own depth: so are the sources laid out.

    A factory's inner functions are read, and counted, one by one, as a class's methods are.
    """
    lines = path.read_text().splitlines()
    spans = list(script_spans(lines))
    for name, start, end in spans:
        inside = {
            line
            for _, first, last in spans
            if start < first and last < end
            for line in range(first, last + 1)
        }
        yield name, end - start + 1 - len(inside)


def script_spans(lines: list[str]) -> Iterator[tuple[str, int, int]]:
    """Name, first and last line of each function."""
    for start, line in enumerate(lines):
        found = SCRIPT_FUNCTION.match(line)
        name = found and (found[2] or found[3] or found[4])
        if not found or not name or name in NO_FUNCTION:
            continue
        closing = re.compile(rf"^{found[1]}\}}")
        later = range(start + 1, len(lines))
        yield name, start, next((at for at in later if closing.match(lines[at])), start)


def test_no_file_is_longer_than_it_may_be() -> None:
    long = {
        named(path): lines
        for path in files(".py", ".js", ".css", ".sh", ".html")
        if (lines := len(path.read_text().splitlines())) > MOST_LINES
    }
    assert set(long) <= set(LONG_FILES), long


def test_no_function_needs_scrolling() -> None:
    long = {}
    for path in files(".py", ".js"):
        functions = python_functions if path.suffix == ".py" else script_functions
        for name, lines in functions(path):
            if lines > (MOST_SCENARIO if "tests" in path.parts else MOST_FUNCTION):
                long[f"{named(path)}: {name}"] = lines
    assert set(long) <= set(LONG_FUNCTIONS), long


def test_the_measure_of_functions_sees_them_all(tmp_path: Path) -> None:
    script = tmp_path / "some.js"
    body = "\n".join("    a();" for _ in range(50))
    script.write_text(
        f"export function one() {{\n{body}\n}}\n"
        f"class Two {{\n  async two(a, b) {{\n{body}\n  }}\n  get #three() {{\n{body}\n  }}\n}}\n"
        f"const four = (a) => {{\n{body}\n}};\n"
        f"function makeFive() {{\n  function five() {{\n{body}\n  }}\n  return five;\n}}\n"
    )
    expected = {"one": 52, "two": 52, "#three": 52, "four": 52, "makeFive": 3, "five": 52}
    assert dict(script_functions(script)) == expected
    module = tmp_path / "some.py"
    module.write_text("class One:\n    async def two(self):\n" + "        a()\n" * 50)
    assert dict(python_functions(module)) == {"two": 51}


def first_words(path: Path) -> str:
    """What the file's first lines say of it."""
    text = path.read_text()
    if path.suffix == ".py":
        return ast.get_docstring(ast.parse(text)) or ""
    if path.suffix == ".sh":
        text = text.removeprefix("#!/bin/sh\n")
        return " ".join(re.findall(r"^# ?(.*)$", text.split("\n\n")[0], re.MULTILINE))
    found = re.match(r"/\*+(.*?)\*/", text, re.DOTALL)
    return found[1].strip(" *\n") if found else ""


@pytest.mark.parametrize("ending", [".py", ".js", ".css", ".sh"])
def test_first_lines_say_what_the_file_is_about(ending: str) -> None:
    silent = [
        named(path)
        for path in files(ending)
        if path.read_text().strip() and len(first_words(path).split()) < 3
    ]
    assert not silent


def test_everything_public_is_typed_and_says_so() -> None:
    """PEP 561: the marker lies in the package; mypy, run by deploy/test.sh, is strict."""
    import tomllib

    settings = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["mypy"]
    assert settings["strict"] is True
    assert (ROOT / "service" / "standclear" / "py.typed").is_file()
    assert re.search(r"^say \"mypy\"", (ROOT / "deploy" / "test.sh").read_text(), re.MULTILINE)
