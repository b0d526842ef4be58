"""Promise 5: the page shows what the service confirmed and how old it is, and never fires late."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from urllib.parse import urlsplit

from playwright.sync_api import expect

from tests.browser.conftest import Set, press_pad, wait_for_count
from tests.service import Api, ServiceProcess
from tests.waiting import until


def test_a_press_without_a_connection_says_so_and_is_not_taken_later(house: Set) -> None:
    shot = house.shot()
    with house.page(shot) as page:
        press_pad(page, 1)
        page.context.set_offline(True)
        expect(page.locator(".bar-state")).to_contain_text("no connection")
        page.locator(".pad").click()
        expect(page.locator(".pad-says")).to_contain_text("Not delivered")
        expect(page.locator(".pad")).to_have_attribute("data-tone", "fault")
        expect(page.locator(".pad-mark .icon-fault")).to_be_visible()  # a shape, not colour alone
        page.context.set_offline(False)
        expect(page.locator(".bar-state")).to_contain_text("camera ready")
        # The next picture that is kept is the one pressed now, and it is the second.
        press_pad(page, 2)
    assert len(house.exposures(shot)) == 2


def test_a_press_into_a_frozen_service_is_void_when_it_thaws(house: Set) -> None:
    shot = house.shot()
    with house.page(shot) as page, thawed_at_last(house):
        press_pad(page, 1)
        house.freeze()
        expect(page.locator(".stage-says .state")).to_contain_text("picture is 2 s old")
        expect(page.locator(".stage-says .icon-warning")).to_be_visible()
        page.locator(".pad").click()
        expect(page.locator(".pad-says")).to_have_text("No answer to the last press.")
        house.thaw()
        expect(page.locator(".pad-says")).to_contain_text("Not delivered")
        expect(page.locator(".stage-says .state")).to_have_text("live")
        press_pad(page, 2)
    assert len(house.exposures(shot)) == 2


def test_a_reply_lost_after_the_picture_was_taken_is_told_as_kept(house: Set) -> None:
    shot = house.shot()
    with house.page(shot) as page:
        # The request reaches the service, its answer never reaches the page.
        page.route("**/exposures", lambda route: (route.fetch(), route.abort())[1])
        page.locator(".pad").click()
        expect(page.locator(".pad-says")).to_contain_text("1 kept")
        page.unroute("**/exposures")
    assert len(house.exposures(shot)) == 1


def test_an_answer_that_comes_late_is_not_taken_for_the_next_press(house: Set) -> None:
    shot = house.shot()
    with house.page(shot) as page:
        held: list[tuple[Any, Any]] = []

        def hold(route: Any) -> None:
            held.append((route, None if held else route.fetch()))

        page.route("**/exposures", hold)
        page.locator(".pad").click()
        expect(page.locator(".pad-says")).to_contain_text("1 kept")  # the stream has told it
        page.locator(".pad").click()
        # Asking the page something lets its requests through to `hold`; waiting alone does not.
        until(lambda: page.evaluate("1") and len(held) == 2)
        first, answer = held[0]
        with page.expect_response("**/exposures"):
            first.fulfill(response=answer)
        expect(page.locator(".pad")).to_have_attribute("data-phase", re.compile("sending|unknown"))
        assert len(house.exposures(shot)) == 1  # the second has not even arrived
        held[1][0].continue_()
        page.unroute("**/exposures")


def test_two_quick_presses_take_one_picture_each_at_most(house: Set) -> None:
    shot = house.shot()
    with house.page(shot) as page:
        page.locator(".pad").evaluate("pad => { pad.click(); pad.click(); pad.click(); }")
        expect(page.locator(".pad-says")).to_contain_text("1 kept")
        press_pad(page, 2)
    assert len(house.exposures(shot)) == 2


def test_what_was_missed_while_away_is_told(own_house: Set) -> None:
    shot = own_house.shot()
    with own_house.page(shot) as page:
        # Cut the event stream and keep it cut, while another remote takes three.
        page.route("**/api/v1/events*", lambda route: route.abort())
        page.evaluate("dispatchEvent(new Event('offline'))")
        own_house.service.stop()
        expect(page.locator(".bar-state")).to_contain_text("no connection")
        with restarted(own_house) as again:
            for _ in range(3):
                again.ok("POST", f"/shots/{shot}/exposures", json={})
            page.unroute("**/api/v1/events*")
            page.evaluate("dispatchEvent(new Event('online'))")
            expect(page.locator(".notice")).to_contain_text("Missed 3 exposures while away")
            expect(page.locator(".pad-number")).to_have_text("4")


@contextmanager
def restarted(house: Set) -> Iterator[Api]:
    """The service again, on the same library and the same port."""
    port = urlsplit(house.service.url).port
    with ServiceProcess(house.service.library, "rehearsal", "--port", str(port)) as service:
        api = Api(service.url, house.token)
        api.wait_for_camera()
        yield api
        api.close()


@contextmanager
def thawed_at_last(house: Set) -> Iterator[None]:
    """Others use this service too."""
    try:
        yield
    finally:
        house.thaw()


def test_a_camera_that_refuses_is_told_in_its_own_words(house: Set) -> None:
    shot = house.shot()
    problem = {
        "title": "The camera is away",
        "status": 503,
        "detail": "The camera does not answer.",
        "code": "camera_away",
        "hint": "Check the cable.",
    }
    with house.page(shot) as page:
        page.route(
            "**/exposures",
            lambda route: route.fulfill(
                status=503, json=problem, content_type="application/problem+json"
            ),
        )
        page.locator(".pad").click()
        expect(page.locator(".pad-says")).to_have_text("The camera does not answer.")
        expect(page.locator(".pad-hint")).to_have_text("Check the cable.")
        page.unroute("**/exposures")
        press_pad(page, 1)
    wait_for_count(house, shot, 1)
