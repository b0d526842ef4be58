"""Clickers, Bluetooth shutters, headsets, gamepads, one switch; the left hand; very large type.

Names of keys: W3C UI Events KeyboardEvent key Values. Numbers of buttons: W3C Gamepad, "standard
gamepad". That some shutters send two keys for one press: common practice, no source.
"""

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Set
from tests.browser.test_layout import CONTROLS, VIEWS, goto
from tests.waiting import until

KEYS = [
    *("PageDown", "Enter", " ", "AudioVolumeUp", "AudioVolumeDown", "MediaPlayPause"),
    *("MediaTrackNext", "MediaTrackPrevious", "Camera"),
]
SEND = """key => {
    const how = {key, bubbles: true, cancelable: true};
    for (const type of ['keydown', 'keyup'])
        document.body.dispatchEvent(new KeyboardEvent(type, how));
}"""
DOWN = SEND.replace("'keydown', 'keyup'", "'keydown'")
UP = SEND.replace("'keydown', 'keyup'", "'keyup'")
PAD = """(mapping) => {
    const button = () => ({pressed: false, touched: false, value: 0});
    window.pad = {index: 0, mapping, buttons: Array.from({length: 17}, button), axes: [0, 0]};
    navigator.getGamepads = () => [null, window.pad];
    dispatchEvent(new Event('gamepadconnected'));
}"""


def look(page: Page, **wish: Any) -> None:
    """Begin with these choices of this phone, as they are kept."""
    page.add_init_script(
        f"localStorage.setItem('standclear.look', JSON.stringify({dict(wish)!r}))".replace(
            "True", "true"
        )
    )


def kept(page: Page, number: int) -> None:
    expect(page.locator(".pad-says")).to_contain_text(f"{number} kept")


def chosen(house: Set, shot: str, page: Page, **wish: Any) -> None:
    look(page, **wish)
    page.add_init_script(f"localStorage.setItem('standclear.shot', '{shot}')")
    page.goto(house.service.url)
    expect(page.locator(".bar-state")).to_contain_text("camera ready")


def test_every_key_that_clickers_and_shutters_send_takes_one_picture(house: Set) -> None:
    shot = house.shot()
    with house.page(shot) as page:
        for number, key in enumerate(KEYS, 1):
            page.evaluate(SEND, key)
            kept(page, number)
            page.wait_for_function("since => performance.now() - since > 260", arg=now(page))
    assert len(house.exposures(shot)) == len(KEYS)


def now(page: Page) -> float:
    return float(page.evaluate("performance.now()"))


def test_a_shutter_that_sends_two_keys_for_one_press_takes_one_picture(house: Set) -> None:
    shot = house.shot()
    with house.page(shot) as page:
        page.evaluate(f"() => {{ ({SEND})('AudioVolumeUp'); ({SEND})('Enter'); }}")
        kept(page, 1)
        page.wait_for_function("since => performance.now() - since > 260", arg=now(page))
        page.evaluate(SEND, "PageDown")
        kept(page, 2)
    assert len(house.exposures(shot)) == 2


def test_a_clickers_enter_shoots_although_a_touched_tool_has_the_focus(house: Set) -> None:
    shot = house.shot()
    with house.page(shot) as page:
        blink = page.get_by_role("button", name="Blink")
        blink.click()
        expect(blink).to_be_focused()
        page.keyboard.press("Enter")
        kept(page, 1)
        expect(blink).to_have_attribute("aria-pressed", "true")


@pytest.mark.parametrize(("mapping", "button"), [("standard", 0), ("standard", 7), ("", 12)])
def test_a_gamepads_button_takes_one_picture_however_long_it_is_held(
    house: Set, mapping: str, button: int
) -> None:
    shot = house.shot()
    with house.page(shot) as page:
        page.evaluate(PAD, mapping)
        page.evaluate("n => { pad.buttons[n].pressed = true }", button)
        kept(page, 1)
        page.wait_for_function("since => performance.now() - since > 400", arg=now(page))
        page.evaluate("n => { pad.buttons[n].pressed = false }", button)
    assert len(house.exposures(shot)) == 1


def test_a_gamepads_cross_steps_in_review(house: Set) -> None:
    shot = house.shot()
    for _ in range(3):
        house.press(shot)
    with house.page(shot) as page:
        goto(page, "review")
        expect(page.locator(".where-what")).to_have_text("exposure 3")
        page.evaluate(PAD, "standard")
        page.evaluate("pad.buttons[14].pressed = true")
        expect(page.locator(".where-what")).to_have_text("exposure 2")


def test_a_headsets_key_takes_a_picture_once_that_is_wanted(house: Set) -> None:
    shot = house.shot()
    with house.page() as page:
        page.add_init_script(
            "window.keys = {}; MediaSession.prototype.setActionHandler = (action, handler) =>"
            " { window.keys[action] = handler }"
        )
        chosen(house, shot, page, mediaKeys=True)
        page.locator(".bar-state").click()  # browsers play sound after a touch
        until(lambda: page.evaluate("typeof keys.nexttrack === 'function'"), 10)
        page.evaluate("keys.nexttrack()")
        kept(page, 1)
        goto(page, "rig")
        page.get_by_role("radiogroup", name="Headset keys").get_by_role("radio", name="off").click()
        assert page.evaluate("keys.nexttrack === null")


def test_one_switch_a_short_press_shoots_and_a_long_one_opens_the_deeds(house: Set) -> None:
    shot = house.shot()
    with house.page() as page:
        chosen(house, shot, page, oneSwitch="hold", scanStep=0.5)
        page.evaluate(SEND, " ")
        kept(page, 1)
        page.evaluate(DOWN, " ")
        marked = page.locator(".deed[aria-current]")
        expect(marked).to_have_text("Take exposure 2")
        page.evaluate(UP, " ")
        expect(marked).to_have_text("Undo: take exposure 1")
        page.evaluate(SEND, " ")
        until(lambda: house.exposures(shot) == [], 10, "for the undo")
        expect(page.locator(".one-switch")).to_be_hidden()


def test_one_switch_that_cannot_be_held_reaches_everything_by_waiting(house: Set) -> None:
    shot = house.shot()
    with house.page() as page:
        chosen(house, shot, page, oneSwitch="scan", scanStep=0.75)
        marked = page.locator(".deed[aria-current]")
        expect(marked).to_have_text("Take exposure 1")
        page.evaluate(SEND, "Enter")
        until(lambda: len(house.exposures(shot)) == 1)
        expect(marked).to_have_text("Play the last second")
        page.evaluate(SEND, "Enter")
        expect(page.locator(".frame[data-view=review]")).to_be_visible()
        expect(marked).to_have_text("Back to Shoot")
        page.evaluate(SEND, "Enter")
        expect(page.locator(".frame[data-view=shoot]")).to_be_visible()
    assert len(house.exposures(shot)) == 1


def test_the_mark_stops_after_three_rounds_in_vain(house: Set) -> None:
    shot = house.shot()
    with house.page() as page:
        chosen(house, shot, page, oneSwitch="hold", scanStep=0.1)
        page.evaluate(DOWN, " ")
        expect(page.locator(".one-switch")).to_be_visible()
        page.evaluate(UP, " ")
        expect(page.locator(".one-switch")).to_be_hidden()
    assert house.exposures(shot) == []


@pytest.mark.parametrize(("width", "height"), [(390, 844), (844, 390), (1280, 800)])
@pytest.mark.parametrize(
    "wish", [{"hand": "left"}, {"type": "largest"}, {"type": "largest", "hand": "left"}], ids=str
)
def test_left_hand_and_very_large_type_keep_everything_within_reach(
    house: Set, wish: dict[str, str], width: int, height: int
) -> None:
    shot = house.shot("a cork with a rather long name")
    house.press(shot)
    with house.page(viewport={"width": width, "height": height}) as page:
        chosen(house, shot, page, **wish)
        for view in VIEWS:
            goto(page, view)
            for one in page.evaluate(CONTROLS):
                assert one["width"] >= 44, (view, one)
                assert one["height"] >= 44, (view, one)
                assert one["left"] >= -0.5, (view, one)
                assert one["right"] <= width + 0.5, (view, one)
            assert page.evaluate("document.documentElement.scrollWidth") <= width, view


def test_for_the_left_hand_the_pad_is_on_the_left_of_a_wide_screen(house: Set) -> None:
    with house.page(viewport={"width": 1280, "height": 800}) as page:
        chosen(house, house.shot(), page, hand="left")
        pad, tabs = page.locator(".pad").bounding_box(), page.locator(".tabs").bounding_box()
        assert pad is not None
        assert tabs is not None
        assert pad["x"] == 0
        assert tabs["x"] + tabs["width"] == 1280


def test_very_large_type_is_at_least_half_as_large_again(house: Set) -> None:
    size = "one => parseFloat(getComputedStyle(one).fontSize)"
    sizes = {}
    for kind in ("plain", "largest"):
        with house.page() as page:
            chosen(house, house.shot(), page, type=kind)
            sizes[kind] = [page.locator(one).evaluate(size) for one in (".pad-says", ".bar-name")]
    for plain, largest in zip(*sizes.values(), strict=True):
        assert largest >= 1.5 * plain
