"""Finish: from the page to a film in the hand, read with an independent program."""

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, Route, expect

from tests.api.test_exports import probed
from tests.browser.conftest import Set, open_on
from tests.waiting import until

WITHIN_MS = 90_000


def open_finish(page: Page) -> None:
    page.get_by_role("link", name="Finish").click()
    expect(page.locator(".finish-still .mask")).to_be_visible()


def test_a_shot_of_six_becomes_a_film_from_the_page(house: Set, tmp_path: Path) -> None:
    shot = house.shot()
    house.press(shot, count=6)
    with house.page(shot) as page:
        open_finish(page)
        expect(page.locator(".finish-sum")).to_contain_text("6 frames at 12 fps: 0.50 s")
        page.get_by_role("radio", name="9:16").click()
        box = page.locator(".finish-still").bounding_box()
        assert box is not None
        middle = box["y"] + box["height"] / 2
        page.mouse.move(box["x"] + box["width"] / 2, middle)
        page.mouse.down()
        page.mouse.move(box["x"], middle, steps=4)
        page.mouse.up()
        page.get_by_label("Even light").check()
        page.get_by_role("button", name="Make the film").click()
        made = page.locator(".export")
        expect(made.get_by_role("link", name="Download")).to_be_visible(timeout=WITHIN_MS)
        expect(made).to_contain_text("Nothing needed correcting")  # the set is even by default
        with page.expect_download() as download:
            made.get_by_role("link", name="Download").click()
        film = tmp_path / "film.mp4"
        download.value.save_as(film)
        options = house.api.ok("GET", f"/shots/{shot}/exports")["items"][0]["options"]
        made.get_by_role("button", name="Remove").click()
        expect(made).to_have_count(0)
    assert options["framing"]["centre_x"] < 0.2  # dragged to the left edge
    picture = probed(film)
    assert (picture["codec_name"], picture["nb_read_frames"]) == ("h264", "6")
    assert float(picture["duration"]) == pytest.approx(0.5, abs=1e-6)
    assert picture["width"] / picture["height"] == pytest.approx(9 / 16, abs=0.01)
    assert house.api.ok("GET", f"/shots/{shot}/exports")["items"] == []


#: Each answer to a POST is held until ``letGo`` is called.
HELD_ANSWERS = """() => {
  const fetched = window.fetch.bind(window);
  const free = new Promise((done) => { window.letGo = done; });
  window.fetch = async (request, options) => {
    const answer = await fetched(request, options);
    if ((options?.method ?? request.method) === "POST") {
      window.heldState = (await answer.clone().json()).state;
      await free;
    }
    return answer;
  };
}"""


def test_an_answer_that_is_slower_than_the_film_does_not_take_it_back(house: Set) -> None:
    shot = house.shot()
    house.press(shot, count=2)
    with house.page(shot) as page:
        open_finish(page)
        page.evaluate(HELD_ANSWERS)
        page.get_by_role("button", name="Cut list").click()
        page.get_by_role("button", name="Make the cut list").click()
        download = page.locator(".export").get_by_role("link", name="Download")
        expect(download).to_be_visible(timeout=WITHIN_MS)
        assert page.evaluate("window.heldState") == "queued"
        page.evaluate("() => { letGo(); return new Promise((done) => setTimeout(done)); }")
        expect(download).to_be_visible()
        expect(page.locator(".export")).to_have_count(1)


def test_an_empty_shot_says_what_is_missing(house: Set) -> None:
    with house.page(house.shot()) as page:
        page.get_by_role("link", name="Finish").click()
        expect(page.locator(".finish-sum")).to_contain_text("no exposure yet")
        expect(page.get_by_role("button", name="Make the film")).to_be_disabled()
        expect(page.locator(".finish-framing")).to_be_hidden()  # nothing to frame


def test_ranges_are_typed_and_kept_to_the_shot(house: Set) -> None:
    shot = house.shot()
    house.press(shot, count=4, hold=3)
    with house.page(shot) as page:
        open_finish(page)
        page.locator(".finish-more summary").click()
        page.get_by_label("Only a range").check()
        page.get_by_label("Frames: first").fill("4")
        page.get_by_label("Frames: last").fill("99")
        page.get_by_label("Frames: last").blur()
        expect(page.get_by_label("Frames: last")).to_have_value("12")  # there are no more
        page.get_by_role("button", name="Retime a range").click()
        row = page.locator(".finish-more .range-row").nth(1)
        for label, value in (("first", "7"), ("last", "9"), ("how many they shall last", "6")):
            row.get_by_label(f"Retimed: {label}").fill(value)
            row.get_by_label(f"Retimed: {label}").blur()
        expect(page.locator(".finish-sum")).to_contain_text("12 frames at 12 fps: 1.00 s")
        page.get_by_label("Even light").check()
        page.get_by_role("button", name="Leave a range alone").click()
        page.get_by_label("Left as shot: last").fill("3")
        page.get_by_label("Left as shot: last").blur()
        page.get_by_label("Left as shot: first").fill("1")
        page.get_by_label("Left as shot: first").blur()
        page.get_by_role("button", name="Make the film").click()
        expect(page.locator(".export")).to_have_count(1)
        until(lambda: house.api.ok("GET", f"/shots/{shot}/exports")["items"])
    made = house.api.ok("GET", f"/shots/{shot}/exports")["items"][0]
    options = made["options"]
    assert options["time"]["range"] == {"first": 4, "last": 12}
    assert options["time"]["retime"] == [{"first": 7, "last": 9, "frames": 6}]
    assert options["light"]["leave_alone"] == [{"first": 1, "last": 3}]
    done = finished_export(house, made["id"])
    assert done["report"]["frames"] == 12, "as the page said"


def test_a_support_is_drawn_over_and_the_drawing_stays_with_the_shot(house: Set) -> None:
    shot = house.shot()
    house.press(shot, count=4)
    with house.page(shot) as page:
        open_finish(page)
        page.get_by_label("Paint out a support").check()
        pad = page.locator(".clean-pad")
        pad.scroll_into_view_if_needed()
        box = pad.bounding_box()
        assert box is not None
        x, foot = box["x"] + 0.9 * box["width"], box["y"] + box["height"]
        page.mouse.move(x, box["y"] + 0.6 * box["height"])
        page.mouse.down()
        page.mouse.move(x, foot - 1, steps=5)
        page.mouse.up()
        expect(page.locator(".clean-more [role=status]")).to_contain_text("Drawn on exposure 4.")
        kept = until(lambda: house.api.ok("GET", f"/shots/{shot}/clean-up")["masks"])
        page.mouse.click(box["x"] + 20, box["y"] + 20)  # two taps: a straight line, without a drag
        page.mouse.click(box["x"] + 60, box["y"] + 20)
        until(
            lambda: len(house.api.ok("GET", f"/shots/{shot}/clean-up")["masks"][0]["strokes"]) == 2
        )
        page.get_by_role("button", name="Undo stroke").click()
        page.reload()
        open_finish(page)
        page.get_by_label("Paint out a support").check()
        expect(page.locator(".brush path")).to_have_count(1)
        page.get_by_role("button", name="Make the film").click()
        until(lambda: house.api.ok("GET", f"/shots/{shot}/exports")["items"])
    ends = kept[0]["strokes"][0]["points"]
    assert ends[0][0] == pytest.approx(0.9, abs=0.01)
    assert ends[-1][1] > 0.98
    made = house.api.ok("GET", f"/shots/{shot}/exports")["items"][0]
    wish = made["options"]["clean_up"]
    assert [(mask["exposure"], len(mask["strokes"])) for mask in wish["masks"]] == [(4, 1)]


def test_a_pose_taken_twice_can_be_skipped(house: Set) -> None:
    shot = house.shot()
    house.press(shot, count=3)
    # Its own verdicts, told later, would take the place of the one that is made up below.
    until(lambda: all(one["verdict"] for one in house.exposures(shot)), 60)
    flagged = {"state": "flagged", "says": "", "figures": {}, "causes": ["same_pose"]}

    def with_verdict(route: Route) -> None:
        answer = route.fetch()
        body = answer.json()
        body["items"][1]["verdict"] = {"state": "flagged", "watches": {"pose": flagged}}
        route.fulfill(response=answer, json=body)

    with house.page() as page:
        page.route("**/exposures?*", with_verdict)
        open_on(page, house.service.url, shot)
        open_finish(page)
        page.locator(".finish-more summary").click()
        page.get_by_role("button", name="Exposure 2").click()
        expect(page.locator(".finish-sum")).to_contain_text("2 frames")
        page.get_by_role("button", name="Make the film").click()
        until(lambda: house.api.ok("GET", f"/shots/{shot}/exports")["items"])
    made = house.api.ok("GET", f"/shots/{shot}/exports")["items"][0]
    assert made["options"]["time"]["leave_out"] == [2]


def finished_export(house: Set, export: str) -> Any:
    """The export once it is over."""

    def over() -> Any:
        job = house.api.ok("GET", f"/exports/{export}")
        return job if job["state"] in ("done", "failed", "cancelled", "stopped") else None

    return until(over, 90)
