"""The page tells of the second copy: in step, behind, its disk gone, a new one begun."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import Set
from tests.service import ServiceProcess

WIDE = {"width": 1280, "height": 800}


@pytest.fixture
def mirrored(chromium: Browser, tmp_path: Path) -> Iterator[Set]:
    """A service with a second copy in a folder of its own."""
    copy = tmp_path / "copy"
    copy.mkdir()
    with ServiceProcess(tmp_path / "library", "rehearsal", "--mirror", str(copy)) as service:
        made = Set(service, chromium)
        yield made
        made.api.close()


def look(page: Page, name: str) -> None:
    """Kept for the eye where a folder for pictures is named."""
    folder = os.environ.get("STANDCLEAR_PICTURES")
    if folder:
        page.screenshot(path=f"{folder}/{name}.png")


def test_the_copy_is_told_in_step_gone_and_begun_anew(mirrored: Set, tmp_path: Path) -> None:
    shot = mirrored.shot()
    mirrored.press(shot)
    with mirrored.page(shot) as page:
        mark = page.locator(".copy-mark")
        page.goto(f"{mirrored.service.url}/#rig")
        part = page.get_by_role("region", name="Second copy")
        expect(part.get_by_role("status")).to_have_text("In step")
        expect(part).to_contain_text("Every exposure is copied and read back: 1.")
        part.scroll_into_view_if_needed()
        look(page, "mirror-in-step-390")
        (tmp_path / "copy").rename(tmp_path / "unplugged")
        mirrored.press(shot)
        expect(part.get_by_role("status")).to_have_text("Not reached")
        expect(part).to_contain_text("1 exposure not copied yet.")
        part.scroll_into_view_if_needed()
        look(page, "mirror-away-390")
        page.set_viewport_size(WIDE)
        part.scroll_into_view_if_needed()
        look(page, "mirror-away-1280")
        page.goto(f"{mirrored.service.url}/#shoot")
        expect(mark).to_contain_text("Second copy: 1 behind")
        look(page, "mirror-mark-1280")
        page.set_viewport_size({"width": 390, "height": 844})
        look(page, "mirror-mark-390")
        mark.click()
        expect(part).to_be_visible()
        (tmp_path / "copy").mkdir()
        part.get_by_role("button", name="Try now").click()
        expect(part.get_by_role("status")).to_have_text("Cannot copy")
        look(page, "mirror-fault-390")
        part.get_by_role("button", name="Begin a new copy here").click()
        expect(part.get_by_role("status")).to_have_text("In step")
        part.get_by_role("button", name="Pause").click()
        expect(part.get_by_role("status")).to_have_text("Paused")
        part.get_by_role("button", name="Go on").click()
        expect(part.get_by_role("status")).to_have_text("In step")
        expect(mark).to_be_hidden()


def test_without_a_second_copy_the_rig_says_how_to_have_one(house: Set) -> None:
    shot = house.shot()
    with house.page(shot) as page:
        expect(page.locator(".copy-mark")).to_be_hidden()
        page.goto(f"{house.service.url}/#rig")
        part = page.get_by_role("region", name="Second copy")
        expect(part).to_contain_text("--mirror")
        expect(part.get_by_role("button")).to_have_count(0)
