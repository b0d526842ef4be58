"""Markup that somebody types anywhere is shown as the text that it is, and none of it runs.

The Content-Security-Policy stands behind that: even markup that found its way into the page would
not run, which the last test shows by putting some there.
"""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import Set
from tests.pictures import jpeg
from tests.service import ServiceProcess

SVG = '<svg onload="window.ran=1"><script>window.ran=1</script></svg>'
HTML = '<img src=x onerror="window.ran=1"><b>cork</b>"\'>&amp;'
LINK = "javascript:window.ran=1//</script><script>window.ran=1</script>"
TEXTS = (SVG, HTML, LINK)


@pytest.fixture(scope="module")
def marked(
    chromium: Browser, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Set, str]]:
    """A set where every text that can be written holds markup."""
    folder = tmp_path_factory.mktemp("markup")
    (folder / "sees").mkdir()
    (folder / "sees" / "view.jpg").write_bytes(jpeg(320, 180))
    env = {"VCAMERADIR": str(folder / "sees")}
    with ServiceProcess(folder / "library", "tethered", env=env) as service:
        house = Set(service, chromium)
        shot = house.api.ok("POST", "/shots", json={"name": SVG, "notes": HTML})["id"]
        for text in (HTML, LINK):
            house.api.ok("POST", "/shots", json={"name": text, "notes": SVG})
        for text in TEXTS:
            one = house.press(shot)["id"]
            house.api.ok("PATCH", f"/shots/{shot}/exposures/{one}", json={"note": text})
        actions = [
            {"label": text[:200], "notes": text, "duration": {"value": "1", "unit": "s"}}
            for text in TEXTS
        ]
        marks = {"1": HTML[:80], "2": SVG[:80]}
        house.api.ok("PUT", f"/shots/{shot}/plan", json={"actions": actions})
        house.api.ok("PUT", f"/shots/{shot}/sound/marks", json={"marks": marks})
        house.api.ok("POST", f"/shots/{shot}/exports", json={"format": "csv", "title": HTML})
        yield house, shot
        house.api.close()


def nothing_ran(page: Page) -> None:
    assert page.evaluate("window.ran") is None
    assert page.locator("img[onerror], svg[onload], b").count() == 0
    assert page.locator('a[href^="javascript:"]').count() == 0


def test_the_shots_are_listed_by_the_very_text(marked: tuple[Set, str]) -> None:
    house, _ = marked
    with house.page() as page:
        page.goto(house.service.url)
        for text in TEXTS:
            expect(page.locator(".shot-name").get_by_text(text, exact=True)).to_be_visible()
        nothing_ran(page)


@pytest.mark.parametrize("view", ["shoot", "review", "plan", "rig", "finish", "report"])
def test_no_view_runs_what_was_written(marked: tuple[Set, str], view: str) -> None:
    house, shot = marked
    with house.page() as page:
        page.add_init_script(f"localStorage.setItem('standclear.shot', '{shot}')")
        page.goto(f"{house.service.url}/#{view}")
        expect(page.locator(f".frame[data-view={view}]")).to_be_visible()
        expect(page.locator("body")).to_contain_text("<svg onload=")
        nothing_ran(page)


def test_the_title_and_a_typed_plan_stay_text(marked: tuple[Set, str]) -> None:
    house, shot = marked
    with house.page() as page:
        page.add_init_script(f"localStorage.setItem('standclear.shot', '{shot}')")
        page.goto(f"{house.service.url}/#finish")
        title = page.get_by_label("Title")
        title.fill(HTML)
        expect(title).to_have_value(HTML)
        expect(page.locator(".export")).to_be_visible()
        nothing_ran(page)


def test_markup_in_an_address_is_not_taken_up(marked: tuple[Set, str]) -> None:
    house, _ = marked
    with house.page() as page:
        page.goto(f"{house.service.url}/#{SVG}")
        expect(page.locator(".frame")).to_be_visible()
        nothing_ran(page)
    answer = house.api.session.get(f"{house.service.url}/{SVG}", timeout=30)
    assert answer.status_code == 404
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"


def test_even_markup_that_found_its_way_in_does_not_run(marked: tuple[Set, str]) -> None:
    house, _ = marked
    context = house.chromium.new_context()
    page = context.new_page()
    page.goto(house.service.url)
    refused = page.evaluate(
        """async () => {
          const told = new Set();
          addEventListener("securitypolicyviolation", (one) => told.add(one.effectiveDirective));
          const box = document.createElement("div");
          const link = '<a href="javascript:window.ran=1">a</a>';
          box.innerHTML = '<img src="x" onerror="window.ran=1">' + link;
          document.body.append(box);
          box.querySelector("a").click();
          const script = document.createElement("script");
          script.textContent = "window.ran = 1";
          document.body.append(script);
          const style = document.createElement("style");
          style.textContent = "body { display: none }";
          document.head.append(style);
          await fetch("http://192.0.2.1/").catch(() => told.add("fetch"));
          await new Promise((done) => setTimeout(done, 500));
          return [...told];
        }"""
    )
    assert page.evaluate("window.ran") is None
    assert {"script-src-attr", "script-src-elem", "style-src-elem", "fetch"} <= set(refused)
    context.close()
