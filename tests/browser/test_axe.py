"""No view has a barrier that axe-core can find, whatever the device prefers to look like.

The ruler is axe-core (rules for WCAG 2.0 to 2.2, A and AA, and its best practices). It is put into
the page by the browser, in a context of the test's own that passes over the page's strict
Content-Security-Policy; nothing of it is served.
"""

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import PHONE, Set, watched

AXE = Path(__file__).parents[2] / ".cache/webtools/node_modules/axe-core/axe.min.js"
VIEWS = ["shots", "shoot", "review", "plan", "finish", "rig", "report", "reseat"]
WIDE = {"width": 1280, "height": 800}
# `target-size` (WCAG 2.2, 2.5.8) is off unless it is asked for.
RUN = "() => axe.run(document, { rules: { 'target-size': { enabled: true } } })"


def violations(page: Page) -> list[str]:
    """What axe-core finds wrong on the page as it is now, a line for each."""
    page.add_script_tag(path=AXE)
    found: dict[str, Any] = page.evaluate(RUN)
    assert len(found["passes"]) >= 10, "axe-core has hardly looked at anything"
    return [
        f"{one['id']} ({one['impact']}): {one['help']}: {node['html'][:120]}"
        for one in found["violations"]
        for node in one["nodes"]
    ]


def goto(page: Page, view: str) -> None:
    page.evaluate("view => location.hash = view", view)
    expect(page.locator(f".frame[data-view={view}]")).to_be_visible()


@pytest.fixture(scope="module", autouse=True)
def _axe_is_there() -> None:
    if not AXE.is_file():
        pytest.skip(f"axe-core is not at {AXE}: deploy/test.sh installs it")


@pytest.fixture(scope="module")
def shot(house: Set) -> str:
    made = house.shot("the cork hears the door")
    for _ in range(3):
        house.press(made)
    house.api.ok(
        "PUT",
        f"/shots/{made}/plan",
        json={"text": "wait 1 s, hold\npeek 12 mm over 0.5 s, ease out\ndash 92 mm over 0.75 s"},
    )
    return made


@pytest.mark.parametrize("size", [PHONE, WIDE], ids=["phone", "wide"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_view_has_a_barrier(house: Set, shot: str, scheme: Any, size: dict[str, int]) -> None:
    wrong = []
    with house.page(shot, bypass_csp=True, color_scheme=scheme, viewport=size) as page:
        for view in VIEWS:
            goto(page, view)
            wrong += [f"{view}: {one}" for one in violations(page)]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_what_opens_within_a_view_has_none_either(house: Set, shot: str, scheme: Any) -> None:
    wrong = []
    with house.page(shot, bypass_csp=True, color_scheme=scheme) as page:
        page.get_by_role("button", name="More", exact=True).click()
        wrong += [f"drawer: {one}" for one in violations(page)]
        page.keyboard.press("Escape")
        for part in ("Typed", "Table", "Actual", "Paper"):
            goto(page, "plan")
            page.get_by_role("radio", name=part, exact=True).click()
            wrong += [f"plan, {part}: {one}" for one in violations(page)]
        goto(page, "shots")
        page.get_by_role("button", name="Edit").first.click()
        wrong += [f"editing a shot: {one}" for one in violations(page)]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nor_has_the_page_that_pairs(house: Set, scheme: Any) -> None:
    context = house.chromium.new_context(viewport=PHONE, bypass_csp=True, color_scheme=scheme)
    with watched(context, house.service.url) as page:
        page.goto(house.service.url)
        expect(page.locator("form.pair")).to_be_visible()
        assert violations(page) == []


def test_nor_has_a_press_that_was_not_delivered(house: Set, shot: str) -> None:
    with house.page(shot, bypass_csp=True) as page:
        page.context.set_offline(True)
        expect(page.locator(".bar-state")).to_contain_text("no connection")
        page.locator(".pad").click()
        expect(page.locator(".pad")).to_have_attribute("data-tone", "fault")
        assert violations(page) == []
        page.context.set_offline(False)


def test_the_ruler_measures(house: Set) -> None:
    """A barrier of our making is found: else the tests above could not fail."""
    with house.page(bypass_csp=True) as page:
        page.goto(house.service.url)
        expect(page.locator(".frame")).to_be_visible()
        page.evaluate("document.body.append(document.createElement('button'))")
        assert any("button-name" in one for one in violations(page))
