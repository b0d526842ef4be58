"""Finish: from the page to a film in the hand, read with an independent program."""

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.api.test_exports import probed
from tests.browser.conftest import Set

WITHIN_MS = 90_000


def open_finish(page: Page) -> None:
    page.get_by_role("link", name="Finish").click()
    expect(page.locator(".finish-still .mask")).to_be_visible()


def test_a_shot_of_six_becomes_a_film_from_the_page(house: Set, tmp_path: Path) -> None:
    shot = house.shot()
    house.press(shot, count=6)
    with house.page(shot) as page:
        open_finish(page)
        expect(page.locator(".finish-sum")).to_contain_text("6 frames at 12 fps: 0.50 s")
        page.get_by_role("radio", name="9:16").click()
        box = page.locator(".finish-still").bounding_box()
        assert box is not None
        middle = box["y"] + box["height"] / 2
        page.mouse.move(box["x"] + box["width"] / 2, middle)
        page.mouse.down()
        page.mouse.move(box["x"], middle, steps=4)
        page.mouse.up()
        page.get_by_label("Even light").check()
        page.get_by_role("button", name="Make the film").click()
        made = page.locator(".export")
        expect(made.get_by_role("link", name="Download")).to_be_visible(timeout=WITHIN_MS)
        expect(made).to_contain_text("Nothing needed correcting")  # the set is even by default
        with page.expect_download() as download:
            made.get_by_role("link", name="Download").click()
        film = tmp_path / "film.mp4"
        download.value.save_as(film)
        options = house.api.ok("GET", f"/shots/{shot}/exports")["items"][0]["options"]
        made.get_by_role("button", name="Remove").click()
        expect(made).to_have_count(0)
    assert options["framing"]["centre_x"] < 0.2  # dragged to the left edge
    picture = probed(film)
    assert (picture["codec_name"], picture["nb_read_frames"]) == ("h264", "6")
    assert float(picture["duration"]) == pytest.approx(0.5, abs=1e-6)
    assert picture["width"] / picture["height"] == pytest.approx(9 / 16, abs=0.01)
    assert house.api.ok("GET", f"/shots/{shot}/exports")["items"] == []


def test_an_empty_shot_says_what_is_missing(house: Set) -> None:
    with house.page(house.shot()) as page:
        page.get_by_role("link", name="Finish").click()
        expect(page.locator(".finish-sum")).to_contain_text("no exposure yet")
        expect(page.get_by_role("button", name="Make the film")).to_be_disabled()
