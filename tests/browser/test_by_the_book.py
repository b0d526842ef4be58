"""DEVELOPERS.md is right: a driver, a watch and an output are one new file each and a registration.

The guide's own words are carried out on a copy of the house: the files that it shows are written,
the lines that it names are put where it says; then the copy is served, and its page is used.
"""

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import pytest
from playwright.sync_api import Browser, expect

from tests.browser.conftest import Set, wait_for_count
from tests.pictures import texture
from tests.service import ServiceProcess
from tests.waiting import until

ROOT = Path(__file__).resolve().parents[2]
GUIDE = (ROOT / "DEVELOPERS.md").read_text()
BLOCK = r".*?```python\n(.*?)```"
PACKAGE = Path("service") / "standclear"


def shown_file(name: str) -> str:
    """The file of that name as the guide shows it."""
    found = re.search(rf"[Tt]he file `{re.escape(name)}`" + BLOCK, GUIDE, re.DOTALL)
    assert found, name
    return found.group(1)


def registrations(name: str) -> list[str]:
    """The lines that the guide puts into the table of that file, the table's own line last."""
    found = re.search(
        rf"`{re.escape(name)}: [A-Z]+`:\n((?:\n```python\n.*?```\n)+)", GUIDE, re.DOTALL
    )
    assert found, name
    return re.findall(r"```python\n(.*?)```", found.group(1), re.DOTALL)


def register(house: Path, name: str) -> int:
    """Put the lines where they belong; how many there were."""
    path = house / PACKAGE / name
    text = path.read_text()
    *imports, line = registrations(name)
    for one in imports:
        text = re.sub(
            r"^from standclear",
            lambda _, new=one: new + "from standclear",
            text,
            count=1,
            flags=re.MULTILINE,
        )
    assert text.endswith("}\n") or "\n}\n" in text
    table = text.index("\n}\n", text.index(": Mapping["))
    path.write_text(text[: table + 1] + line + text[table + 1 :])
    return len([*imports, line])


def slide(path: Path, glare: float) -> None:
    """A photograph of the table, with that part of it white."""
    picture = (texture(640, 360, seed=4) // 2 + 60).astype(np.uint8)
    picture[: round(360 * glare)] = 255
    cv2.imwrite(str(path), picture)


@pytest.fixture
def by_the_book(tmp_path: Path, chromium: Browser) -> Iterator[Set]:
    house = tmp_path / "house"
    for part in ("service", "webclient"):
        ignored = shutil.ignore_patterns("__pycache__")
        shutil.copytree(ROOT / part, house / part, ignore=ignored)
    for name in ("cameras/slides.py", "shooting/watches/glare.py", "finishing/flipbook.py"):
        assert not (house / PACKAGE / name).exists()
        (house / PACKAGE / name).write_text(shown_file(name))
    lines = sum(
        register(house, name)
        for name in ("cameras/kinds.py", "shooting/watches/table.py", "finishing/formats.py")
    )
    assert lines == 4  # one each, and an import
    slides = tmp_path / "slides"
    slides.mkdir()
    for number, glare in enumerate((0.0, 0.0, 0.3)):
        slide(slides / f"{number}.jpg", glare)
    env = {"PYTHONPATH": str(house / "service")}
    with ServiceProcess(tmp_path / "library", f"slides:{slides}", env=env) as service:
        made = Set(service, chromium)
        yield made
        made.api.close()


def test_a_driver_a_watch_and_an_output_are_one_file_each_and_a_line(by_the_book: Set) -> None:
    house = by_the_book
    assert house.api.ok("GET", "/camera")["kind"] == "slides"
    shot = house.shot()
    house.api.ok("POST", f"/shots/{shot}/exposures", json={"count": 2})
    with house.page() as page:
        page.goto(house.service.url)
        page.get_by_role("link", name="the cork wakes").or_(
            page.get_by_role("button", name="the cork wakes")
        ).first.click()
        page.locator(".pad").click()
        expect(page.locator(".pad-says")).to_contain_text("3 kept")
        wait_for_count(house, shot, 3)
        until(lambda: house.exposures(shot)[2]["verdict"] is not None, 30)
        expect(page.locator(".flaw p")).to_contain_text("of the picture is white")
        page.get_by_role("link", name="Finish").click()
        page.get_by_role("button", name="Flip book").click()
        page.get_by_role("button", name="Make the flip book").click()
        link = page.locator(".export").get_by_role("link", name="Download")
        expect(link).to_be_visible()
        with page.expect_download() as download:
            link.click()
        pages = Path(download.value.path()).read_text().splitlines()
    verdict = house.exposures(shot)[2]["verdict"]
    assert verdict["watches"]["glare"]["causes"] == ["glare"]
    assert verdict["watches"]["glare"]["figures"]["glare_percent"] == pytest.approx(30, abs=2)
    assert house.exposures(shot)[1]["verdict"]["watches"]["glare"]["state"] == "clear"
    assert pages == ["the cork wakes", *(f"page {n}: exposure {n}" for n in (1, 2, 3))]
