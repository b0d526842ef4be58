"""Keyboards and presenter's clickers fire the shutter; a focused control keeps its own keys."""

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import Set, press_pad

# What keyboards, presenters and headsets send, by the names of UI Events KeyboardEvent key Values.
KEYS = [" ", "Enter", "PageDown", "AudioVolumeUp", "MediaPlayPause"]
SEND = "key => document.body.dispatchEvent(new KeyboardEvent('keydown', {key, bubbles: true}))"


@pytest.mark.parametrize("key", KEYS)
def test_the_key_takes_a_picture(house: Set, key: str) -> None:
    shot = house.shot()
    with house.page(shot) as page:
        page.evaluate(SEND, key)
        expect(page.locator(".pad-says")).to_contain_text("1 kept")
    assert len(house.exposures(shot)) == 1


def test_space_on_a_focused_control_works_that_control_and_takes_nothing(house: Set) -> None:
    shot = house.shot()
    with house.page(shot) as page:
        blink = page.get_by_role("button", name="Blink")
        blink.focus()
        blink.press(" ")
        expect(blink).to_have_attribute("aria-pressed", "true")
        expect(page.locator(".pad")).to_have_attribute("data-phase", "idle")
        blink.press("PageDown")  # a clicker fires wherever the focus is
        expect(page.locator(".pad-says")).to_contain_text("1 kept")
    assert len(house.exposures(shot)) == 1


def test_a_key_held_down_takes_one_picture(house: Set) -> None:
    shot = house.shot()
    with house.page(shot) as page:
        page.keyboard.down("PageDown")
        for _ in range(5):
            page.keyboard.down("PageDown")  # repeats, as a held key does
        expect(page.locator(".pad-says")).to_contain_text("1 kept")
        page.keyboard.up("PageDown")
    assert len(house.exposures(shot)) == 1


def test_keys_in_a_text_field_are_text(house: Set) -> None:
    shot = house.shot()
    with house.page(shot) as page:
        page.locator(".bar-shot").click()
        field = page.get_by_label("New shot")
        field.press_sequentially("it hears the door")
        expect(field).to_have_value("it hears the door")
    assert house.exposures(shot) == []


def test_arrows_step_and_space_plays_in_review(house: Set) -> None:
    shot = house.shot()
    for _ in range(3):
        house.press(shot)
    with house.page(shot) as page:
        page.get_by_role("link", name="Review").click()
        expect(page.locator(".where-what")).to_have_text("exposure 3")
        page.locator("body").press("ArrowLeft")
        expect(page.locator(".where-what")).to_have_text("exposure 2")
        page.locator("body").press("ArrowRight")
        expect(page.locator(".where-what")).to_have_text("exposure 3")
        page.evaluate("document.activeElement.blur()")
        page.keyboard.press(" ")
        expect(page.get_by_role("button", name="Pause")).to_be_visible()
    assert len(house.exposures(shot)) == 3


def test_the_self_timer_counts_and_a_second_press_stops_it(house: Set) -> None:
    shot = house.shot()
    with house.page(shot) as page:
        page.get_by_role("button", name="More", exact=True).click()
        page.get_by_role("radio", name="after a wait").click()
        expect(page.get_by_role("radio", name="after a wait")).to_have_attribute(
            "aria-checked", "true"
        )
        page.keyboard.press("Escape")
        page.locator(".pad").click()
        expect(page.locator(".pad-time")).to_contain_text("press to stop")
        page.locator(".pad").click()
        expect(page.locator(".pad-does")).to_have_text("next exposure")
        assert house.exposures(shot) == []
        page.locator(".pad").click()
        expect(page.locator(".pad-says")).to_contain_text("1 kept")
    house.api.ok("PUT", "/trigger", json={"mode": "manual"})
    assert len(house.exposures(shot)) == 1


def test_the_step_back_trigger_tells_what_it_waits_for_and_a_press_holds_it_back(
    house: Set,
) -> None:
    shot = house.shot()
    with house.page(shot) as page:
        page.get_by_role("button", name="More", exact=True).click()
        page.get_by_role("radio", name="step back").click()
        page.keyboard.press("Escape")
        expect(page.locator(".pad-time")).to_contain_text("press to hold back")
        expect(page.locator(".pad-says")).to_contain_text("Watching", timeout=30_000)
        page.get_by_role("button", name="Press to hold back").click()
        expect(page.locator(".pad-says")).to_contain_text("Held back")
        expect(page.locator(".pad")).to_have_attribute("data-tone", "warning")
        expect(page.get_by_role("button", name="Press to go on")).to_be_visible()
        house.api.ok("PUT", "/trigger", json={"mode": "manual"})
        press_pad(page, 1)
    assert len(house.exposures(shot)) == 1
