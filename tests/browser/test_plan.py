"""The plan on the page: typed, told on the pad, and never written over another phone's."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, Route, expect

from tests.browser.conftest import Set, press_pad

VIBRATIONS = "window.vibrations = []; navigator.vibrate = (one) => window.vibrations.push(one);"


@pytest.fixture
def plan_page(house: Set) -> Iterator[tuple[Page, str]]:
    """A page on the plan of a new shot, and the shot's id."""
    shot = house.shot()
    with house.page(shot) as page:
        part(page, "Typed")
        yield page, shot


def part(page: Page, name: str) -> None:
    """Open a part of the plan."""
    page.evaluate("location.hash = 'plan'")
    page.get_by_role("radio", name=name, exact=True).click()


def test_what_cannot_be_read_is_pointed_at_and_what_can_is_counted(
    house: Set, plan_page: tuple[Page, str]
) -> None:
    page, shot = plan_page
    text = page.locator(".typed-text")
    text.fill("wait 1 s\ncreep 60 mm over 2 parsec, ease in")
    expect(page.locator(".typed-head")).to_contain_text("Line 2, column 20")
    expect(page.locator(".typed-line mark")).to_have_text("parsec")
    expect(text).to_have_attribute("aria-invalid", "true")
    page.get_by_role("button", name="Go there").click()
    chosen = "one => one.value.slice(one.selectionStart, one.selectionEnd)"
    assert text.evaluate(chosen) == "parsec"
    assert house.api.ok("GET", f"/shots/{shot}/plan")["actions"] == []

    text.fill("wait 1 s\ncreep 60 mm over 2 s, ease in, on twos")
    expect(page.locator(".typed-head")).to_contain_text("3.00 s · 36 frames · 24 exposures")
    page.get_by_role("button", name="Save").click()
    expect(page.locator(".plan-sums")).to_have_text("3.00 s · 36 frames · 24 exposures")
    part(page, "Actions")
    expect(page.locator(".action-name").nth(1)).to_have_text("creep")


def test_the_pad_says_the_action_and_its_end_is_felt(house: Set) -> None:
    shot = house.shot()
    house.api.ok("PUT", f"/shots/{shot}/plan", json={"text": "peek 2 frames\nhide 20 mm over 1 s"})
    with house.page(shot) as page:
        page.evaluate(VIBRATIONS)
        does, then = page.locator(".pad-does"), page.locator(".pad-time")
        expect(does).to_have_text("peek, frame 1 of 2")
        expect(then).to_have_text("then hide")
        press_pad(page, 1)
        expect(does).to_have_text("peek, frame 2 of 2")
        expect(then).to_have_text("last of it, then hide")
        assert [60, 80, 60, 80, 160] not in page.evaluate("window.vibrations")
        press_pad(page, 2)
        expect(page.locator(".notice")).to_contain_text("“peek” is complete. Next: hide.")
        expect(does).to_have_text("hide, frame 1 of 12")
        expect(then).to_have_text("move 1.7 mm, nothing follows")  # 20 mm in 12
        assert page.evaluate("window.vibrations")[-1] == [60, 80, 60, 80, 160]


def test_a_plan_changed_on_another_phone_is_not_written_over(
    house: Set, plan_page: tuple[Page, str]
) -> None:
    page, shot = plan_page

    def meanwhile(route: Route) -> None:
        if route.request.method == "PUT":
            house.api.ok("PUT", f"/shots/{shot}/plan", json={"text": "theirs 2 s"})
        route.continue_()

    page.route(f"**/shots/{shot}/plan", meanwhile)
    page.locator(".typed-text").fill("ours 1 s")
    page.get_by_role("button", name="Save").click()
    expect(page.locator(".notice")).to_contain_text("changed on another phone")
    expect(page.locator(".plan-sums")).to_contain_text("2.00 s")
    expect(page.locator(".typed-text")).to_have_value("ours 1 s")  # nobody's words are lost
    kept = house.api.ok("GET", f"/shots/{shot}/plan")
    assert [one["label"] for one in kept["actions"]] == ["theirs"]


def test_an_action_is_added_split_and_put_earlier(house: Set, plan_page: tuple[Page, str]) -> None:
    page, shot = plan_page
    part(page, "Actions")
    page.get_by_role("button", name="Add an action").click()
    page.get_by_label("Action").fill("look up")
    page.get_by_label("Lasts").fill("2")
    page.get_by_role("button", name="Save").click()
    page.locator(".action-open").click()
    page.get_by_label("Split after frame (of 24)").fill("6")
    page.get_by_role("button", name="Split", exact=True).click()
    expect(page.locator(".action-open")).to_have_count(2)
    page.locator(".action-open").nth(1).click()
    page.get_by_role("button", name="Earlier").click()
    expect(page.locator(".action-long").first).to_contain_text("18")
    kept = house.api.ok("GET", f"/shots/{shot}/plan")
    assert [one["frames"] for one in kept["actions"]] == [18, 6]
