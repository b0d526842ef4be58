"""The second camera is chosen on the page, and what came of it is told and shown there."""

from playwright.sync_api import expect

from tests.browser.conftest import Set, press_pad
from tests.browser.test_layout import goto
from tests.waiting import until


def test_two_cameras_take_one_exposure_and_the_page_says_how_far_apart(own_house: Set) -> None:
    own_house.api.ok("PUT", "/camera/second", json={"id": "rehearsal:seed=5"})
    shot = own_house.shot()
    with own_house.page(shot) as page:
        goto(page, "rig")
        second = page.locator(".second-camera")
        expect(second.locator(".state")).to_have_text("takes a picture with every press")
        goto(page, "shoot")
        press_pad(page, 1)
        expect(page.locator(".pad-hint")).to_contain_text("two pictures,")
        expect(page.locator(".pad-hint")).to_contain_text("ms apart")
        [one] = own_house.exposures(shot)
        assert len(one["originals"]) == 2
        goto(page, "review")
        expect(page.locator(".where-note")).to_contain_text("ms apart")
        with page.expect_request(lambda request: "file=1" in request.url):
            page.get_by_role("button", name="Second").click()
        goto(page, "rig")
        second.locator("select").select_option("")
        until(lambda: own_house.api.ok("GET", "/camera")["second"] is None)
        goto(page, "shoot")
        press_pad(page, 2)
        expect(page.locator(".pad-hint")).to_have_text("")
    assert [len(one["originals"]) for one in own_house.exposures(shot)] == [2, 1]


def test_a_second_camera_that_is_away_is_told_when_pressed(own_house: Set) -> None:
    own_house.api.ok("PUT", "/camera/second", json={"id": "webcam:/nowhere/at/all.mp4"})
    shot = own_house.shot()
    with own_house.page(shot) as page:
        page.locator(".pad").click()
        expect(page.locator(".pad")).to_have_attribute("data-tone", "fault")
        expect(page.locator(".pad-hint")).to_contain_text("Second camera")
    assert own_house.exposures(shot) == []
