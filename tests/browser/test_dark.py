"""Promise 6: every connected screen is black, and silent, while the shutter is open."""

from collections.abc import Iterator

import cv2
import numpy as np
import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Set, press_pad
from tests.waiting import until


def brightest(page: Page) -> int:
    """The brightest sample of the whole screen, 0..255."""
    picture = cv2.imdecode(np.frombuffer(page.screenshot(), np.uint8), cv2.IMREAD_COLOR)
    assert picture is not None
    return int(picture.max())


def set_shutter(house: Set, value: str) -> None:
    house.api.ok("PATCH", "/camera/settings", json={"shutter": value})


@pytest.fixture
def slow(house: Set) -> Iterator[Set]:
    """The shutter stays open for 2 s: long enough to look at the screen meanwhile."""
    set_shutter(house, "2")
    yield house
    set_shutter(house, "1/50")


@pytest.mark.parametrize("view", ["shoot", "review", "rig", "shots"])
def test_every_view_is_black_while_the_shutter_is_open(slow: Set, view: str) -> None:
    shot = slow.shot()
    with slow.page(shot) as page, slow.page(shot) as remote:
        page.evaluate("view => location.hash = view", view)
        expect(page.locator(f".frame[data-view={view}]")).to_be_visible()
        assert brightest(page) > 100
        remote.locator(".pad").click()
        expect(page.locator("#dark")).to_be_visible()
        assert brightest(page) == 0
        assert brightest(remote) == 0
        assert page.locator("meta[name=theme-color]").get_attribute("content") == "#000000"
        expect(page.locator("#dark")).to_be_hidden()
        expect(remote.locator(".pad-says")).to_contain_text("1 kept")
        assert brightest(page) > 100


def test_the_screen_says_that_it_is_dark_only_when_it_is(house: Set) -> None:
    shot = house.shot()
    with house.page(shot) as page:
        page.evaluate(
            """() => {
                const send = window.fetch;
                window.seen = [];
                window.fetch = (url, init) => {
                    if (String(url).includes('/dark')) {
                        const cover = document.getElementById('dark');
                        window.seen.push({hidden: cover.hidden, body: JSON.parse(init.body)});
                    }
                    return send(url, init);
                };
            }"""
        )
        with page.expect_request("**/dark") as told:
            press_pad(page, 1)
        assert told.value.method == "POST"
        (seen,) = page.evaluate("window.seen")
        assert seen["hidden"] is False
        assert seen["body"]["press"]


def test_no_sound_while_the_shutter_is_open_and_a_click_after(house: Set) -> None:
    shot = house.shot()
    with house.page(shot) as page:
        # Record what the page asks of the browser's sound.
        page.evaluate(
            """() => {
                window.asked = [];
                const dark = () => !document.getElementById('dark').hidden;
                const start = AudioScheduledSourceNode.prototype.start;
                OscillatorNode.prototype.start = function (...rest) {
                    window.asked.push({what: 'click', dark: dark()});
                    return start.apply(this, rest);
                };
                const suspend = AudioContext.prototype.suspend;
                AudioContext.prototype.suspend = function () {
                    window.asked.push({what: 'suspend', dark: dark()});
                    return suspend.call(this);
                };
            }"""
        )
        press_pad(page, 1)
        until(lambda: page.evaluate("window.asked.some(one => one.what === 'click')"))
        asked = page.evaluate("window.asked")
        assert {"what": "suspend", "dark": True} in asked
        assert all(not one["dark"] for one in asked if one["what"] == "click")


def test_the_page_lights_up_by_itself_when_the_service_dies_in_the_dark(own_house: Set) -> None:
    shot = own_house.shot()
    set_shutter(own_house, "2")
    with own_house.page(shot) as page:
        page.locator(".pad").click()
        expect(page.locator("#dark")).to_be_visible()
        own_house.service.kill()
        expect(page.locator("#dark")).to_be_hidden()
        expect(page.locator(".bar-state")).to_contain_text("no connection")
