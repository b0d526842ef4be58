"""The rules of webclient/README.md, kept by reading its files. No browser is needed for these."""

import re
from pathlib import Path

import pytest

WEBCLIENT = Path(__file__).parents[2] / "webclient"
MODULES = sorted(WEBCLIENT.rglob("*.js"))
PAGES = sorted(WEBCLIENT.glob("*.html"))
STYLES = sorted((WEBCLIENT / "css").glob("*.css"))
COMMENT = re.compile(r"/\*.*?\*/|//[^\n]*", re.DOTALL)


def code_of(path: Path) -> str:
    return COMMENT.sub("", path.read_text())


@pytest.mark.parametrize("path", MODULES, ids=lambda one: str(one.relative_to(WEBCLIENT)))
def test_modules_stay_small_and_never_write_html(path: Path) -> None:
    assert len(path.read_text().splitlines()) <= 300
    assert not re.search(
        r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(", code_of(path)
    )


@pytest.mark.parametrize(
    "path",
    [one for one in MODULES if one.parent.name in ("core", "models")],
    ids=lambda one: str(one.relative_to(WEBCLIENT)),
)
def test_core_and_models_touch_no_dom_and_no_views(path: Path) -> None:
    code = code_of(path)
    assert not re.search(r"\b(document|window|localStorage)\b", code)
    assert "/views/" not in code
    if path.parent.name == "core":
        assert "/models/" not in code


@pytest.mark.parametrize("path", STYLES, ids=lambda one: one.name)
def test_colours_stand_in_one_file_only(path: Path) -> None:
    found = re.findall(r"#[0-9a-fA-F]{3,8}\b(?=[;,)\s])|\brgba?\(|\bhsla?\(", code_of(path))
    assert path.name == "colors.css" or not found, found


def test_the_pages_name_every_style_between_them() -> None:
    named = {name for page in PAGES for name in re.findall(r'href="css/([^"]+)"', page.read_text())}
    assert named == {one.name for one in STYLES}


@pytest.mark.parametrize("path", PAGES, ids=lambda one: one.name)
def test_a_page_names_nothing_from_elsewhere(path: Path) -> None:
    html = path.read_text()
    assert not re.search(r"https?://|//[a-z]", html)
    assert not re.search(r"<style|<script(?![^>]* src=)|\sstyle=|\son[a-z]+=", html)
    scripts = re.findall(r'<script type="module" src="([^"]+)"', html)
    assert scripts[0] == "views/faults.js"  # what shows errors is there before what may make them


@pytest.mark.parametrize("path", MODULES, ids=lambda one: str(one.relative_to(WEBCLIENT)))
def test_every_import_is_a_file_of_ours(path: Path) -> None:
    imports = re.findall(
        r'^\s*(?:import|export)\b[^;]*?from "([^"]+)"|^import "([^"]+)"', code_of(path), re.M
    )
    for name in filter(None, (one for pair in imports for one in pair)):
        assert name.startswith("."), name
        assert (path.parent / name).is_file(), name
