"""From 320 px to a monitor, portrait and landscape; WCAG 2.2 AA where a program can check it."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Set

SIZES = [(320, 640), (390, 844), (844, 390), (1280, 800), (1920, 1080)]
VIEWS = ["shots", "shoot", "review", "finish", "plan", "rig"]
CSS = Path(__file__).parents[2] / "webclient" / "css" / "colors.css"

# Everything that can be pressed and is in sight: its name, its box, and whether it sticks out.
CONTROLS = """() => [...document.querySelectorAll('a, button, input, select, textarea')]
    .filter(one => one.checkVisibility() && !one.closest('[hidden]'))
    .map(one => {
        const box = one.getBoundingClientRect();
        return {
            what: one.outerHTML.slice(0, 90),
            name: one.getAttribute('aria-label') || one.textContent.trim()
                || (one.labels && [...one.labels].map(l => l.textContent).join()) || '',
            width: box.width, height: box.height, left: box.left, right: box.right,
        };
    })"""


def goto(page: Page, view: str) -> None:
    page.evaluate("view => location.hash = view", view)
    expect(page.locator(f".frame[data-view={view}]")).to_be_visible()


@pytest.fixture(scope="module")
def shot(house: Set) -> str:
    made = house.shot("a cork with a rather long name that does not fit on a phone at all")
    for _ in range(3):
        house.press(made)
    return made


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_everything_is_within_reach_named_and_large_enough(
    house: Set, shot: str, width: int, height: int
) -> None:
    with house.page(shot, viewport={"width": width, "height": height}) as page:
        for view in VIEWS:
            goto(page, view)
            controls = page.evaluate(CONTROLS)
            assert len(controls) >= 5
            for one in controls:
                assert one["name"], one
                assert one["width"] >= 44, (view, one)
                assert one["height"] >= 44, (view, one)
                assert one["left"] >= 0, (view, one)
                assert one["right"] <= width + 0.5, (view, one)
            assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_in_portrait_the_pad_is_the_lower_forty_per_cent(house: Set, shot: str) -> None:
    with house.page(shot) as page:
        box = page.locator(".pad").bounding_box()
        assert box is not None
        assert box["height"] >= 0.4 * 844 - 1
        assert box["width"] == 390


@pytest.mark.parametrize(("width", "height"), [(844, 390), (1280, 800), (1920, 1080)])
def test_on_a_wide_screen_the_picture_dominates(
    house: Set, shot: str, width: int, height: int
) -> None:
    with house.page(shot, viewport={"width": width, "height": height}) as page:
        stage = page.locator(".stage").bounding_box()
        assert stage is not None
        assert stage["width"] > 0.6 * width


def luminance(colour: str) -> float:
    """Relative luminance of `#rrggbb` (WCAG 2.2, definition of relative luminance)."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.2, definition of contrast ratio)."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("ground", ["ink", "ink-raised", "ink-pressed"])
@pytest.mark.parametrize(
    ("ink", "least"),  # text 4.5 (1.4.3), edges of controls 3 (1.4.11)
    [
        ("text", 4.5),
        ("text-quiet", 4.5),
        ("pencil", 4.5),
        ("amber", 4.5),
        ("vermilion", 4.5),
        ("line-strong", 3.0),
    ],
)
def test_colours_stand_out_from_their_ground(ground: str, ink: str, least: float) -> None:
    colours = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", CSS.read_text()))
    if (ground, ink) == ("ink-pressed", "line-strong"):
        least = 2.5  # only while a finger covers it
    assert contrast(colours[ink], colours[ground]) >= least


def test_pinch_zoom_is_left_on(house: Set) -> None:
    html = house.api.session.get(house.service.url, timeout=10).text
    viewport = re.search(r'name="viewport" content="([^"]+)"', html)
    assert viewport is not None
    assert "maximum-scale" not in viewport[1]
    assert "user-scalable" not in viewport[1]


def test_what_happens_to_a_press_is_spoken(house: Set) -> None:
    shot = house.shot()
    with house.page(shot) as page:
        pad = page.get_by_role("button", name="Take exposure 1: next exposure on ones")
        pad.click()
        live = page.locator("[aria-live=assertive]")
        expect(live).to_have_text("Exposure 1 kept.")


def test_reduced_motion_stops_the_blinking(house: Set) -> None:
    shot = house.shot()
    house.press(shot)
    with house.page(shot, reduced_motion="reduce") as page:
        page.evaluate(
            "() => { window.timers = 0; const set = setInterval;"
            " window.setInterval = (f, ms) => { if (ms === 600) window.timers++;"
            " return set(f, ms); }; }"
        )
        page.get_by_role("button", name="Blink").click()
        expect(page.locator(".stage-over")).to_contain_text("blinking")
        assert page.evaluate("window.timers") == 0


@pytest.mark.parametrize("ratio", ["16:9", "9:16", "4:5", "1:1"])
def test_a_framing_mask_has_the_ratio_it_names(house: Set, shot: str, ratio: str) -> None:
    with house.page(shot) as page:
        page.get_by_role("button", name="More", exact=True).click()
        page.get_by_role("radio", name=ratio, exact=True).click()
        box = page.locator(".mask-corners").evaluate(
            "one => { const b = one.getBBox(); return [b.width, b.height]; }"
        )
        across, down = map(int, ratio.split(":"))
        assert box[0] / box[1] == pytest.approx(across / down, rel=0.01)


def test_a_setting_left_on_automatic_is_flagged_with_word_and_shape(house: Set, shot: str) -> None:
    house.api.ok("PATCH", "/camera/settings", json={"iso": "auto"})
    try:
        with house.page(shot) as page:
            goto(page, "rig")
            setting = page.locator("[data-setting=iso]")
            expect(setting.locator(".state")).to_have_text("automatic")
            expect(setting.locator(".icon-warning")).to_be_visible()
            setting.locator("select").select_option("200")
            expect(setting.locator(".state")).to_have_count(0)
        assert house.api.ok("GET", "/camera/settings")["iso"]["value"] == "200"
    finally:
        house.api.ok("PATCH", "/camera/settings", json={"iso": "200"})
