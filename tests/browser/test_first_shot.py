"""The loop, end to end: pair, make a shot, take 12 exposures, review, delete, undo, retake."""

import hashlib
import re
import subprocess
import sys
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import PHONE, Set, press_pad, watched
from tests.service import ServiceProcess
from tests.waiting import until


@pytest.fixture(scope="module")
def new_house(chromium: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Set]:
    """A service that nobody has paired with yet."""
    with ServiceProcess(tmp_path_factory.mktemp("new") / "library") as service:
        made = Set(service, chromium)
        yield made
        made.api.close()


def fresh_code(house: Set) -> str:
    """As the person at the computer gets one."""
    command = [
        sys.executable,
        "-m",
        "standclear.cli",
        "pair",
        "--library",
        str(house.service.library),
    ]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60)
    return "".join(re.findall(r"\d", done.stdout))


def pair_by_code(page: Page, house: Set) -> None:
    page.goto(house.service.url)
    page.get_by_label("Code on the computer beside the set").fill(house.service.code())
    expect(page.get_by_role("heading", name="Shots")).to_be_visible()


def make_shot(page: Page) -> None:
    page.get_by_label("New shot").fill("the cork wakes")
    expect(page.get_by_label("Frame rate")).to_have_value("12")
    page.get_by_role("button", name="Begin").click()
    expect(page.locator(".bar-shot")).to_contain_text("12 fps")
    expect(page.locator(".pad-number")).to_have_text("1")


def test_twelve_exposures_from_pairing_to_retake(new_house: Set) -> None:
    house = new_house
    context = house.chromium.new_context(viewport=PHONE, has_touch=True)
    with watched(context, house.service.url) as page:
        pair_by_code(page, house)
        make_shot(page)
        for number in range(1, 13):
            press_pad(page, number)
        expect(page.locator(".pad-time")).to_contain_text("1.08 s")  # 13 frames at 12 fps
        shot = house.api.ok("GET", "/shots")["items"][0]["id"]
        taken = [one["id"] for one in house.exposures(shot)]

        page.get_by_role("link", name="Review").click()
        expect(page.locator(".where-what")).to_have_text("exposure 12")
        page.get_by_role("button", name="Play", exact=True).click()
        until(lambda: page.locator(".where-what").text_content() == "exposure 5")
        page.get_by_role("button", name="Pause").click()
        page.locator(".chart").press("Home")
        expect(page.locator(".where-what")).to_have_text("exposure 1")

        page.get_by_role("button", name="Delete").click()
        expect(page.locator(".notice")).to_contain_text("Exposure 1 is in the bin")
        expect(page.locator(".chart").last).to_have_attribute("aria-valuemax", "11")
        page.locator(".notice").get_by_role("button", name="Undo").click()
        expect(page.locator(".chart").last).to_have_attribute("aria-valuemax", "12")
        assert [one["id"] for one in house.exposures(shot)] == taken

        page.locator(".chart").press("Home")
        for _ in range(6):
            page.get_by_role("button", name="One frame on").click()
        expect(page.locator(".where-what")).to_have_text("exposure 7")
        page.get_by_role("button", name="Retake").click()
        expect(page.locator(".pad-does")).to_have_text("replaces exposure 7")
        press_pad(page, 7)
        expect(page.locator(".pad-number")).to_have_text("13")

    exposures = house.exposures(shot)
    assert len(exposures) == 12
    changed = [n for n, one in enumerate(exposures, 1) if one["id"] != taken[n - 1]]
    assert changed == [7]
    for one in exposures:
        (original,) = one["originals"]
        answer = house.api.session.get(house.service.url + original["url"], timeout=30)
        assert hashlib.sha256(answer.content).hexdigest() == original["sha256"]
        assert len(answer.content) == original["size"]


def test_the_address_in_the_qr_pairs_by_itself_and_leaves_no_code_behind(new_house: Set) -> None:
    context = new_house.chromium.new_context(viewport=PHONE)
    with watched(context, new_house.service.url) as page:
        page.goto(f"{new_house.service.url}/#code={fresh_code(new_house)}")
        expect(page.get_by_role("heading", name="Shots")).to_be_visible()
        assert "code" not in page.url


def test_a_wrong_code_is_refused_in_words_and_five_lock_with_the_time(new_house: Set) -> None:
    wrong = f"{(int(fresh_code(new_house)) + 1) % 1_000_000:06d}"
    context = new_house.chromium.new_context(viewport=PHONE)
    with watched(context, new_house.service.url) as page:
        page.goto(new_house.service.url)
        code = page.get_by_label("Code on the computer beside the set")
        for _ in range(5):
            code.fill("")
            with page.expect_response("**/api/v1/pairing"):
                code.fill(wrong)
            expect(page.locator(".pair-says")).to_contain_text("not the code")
        code.fill("")
        code.fill(wrong)
        expect(page.locator(".pair-says")).to_contain_text("Try again in")
        expect(page.get_by_role("button", name="Pair")).to_be_disabled()
