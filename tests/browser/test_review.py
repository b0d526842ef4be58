"""Review: holds, inserts, notes, the live pose, and the time that playback keeps."""

from itertools import pairwise
from statistics import median

from playwright.sync_api import Page, Route, expect

from tests.api.test_sound import knock
from tests.browser.conftest import Set, open_on, press_pad
from tests.waiting import until


def open_review(page: Page, exposures: int) -> None:
    page.get_by_role("link", name="Review").click()
    expect(page.locator(".where-what")).to_have_text(f"exposure {exposures}")


def shot_of(house: Set, count: int, **body: object) -> str:
    shot = house.shot()
    for _ in range(count):
        house.press(shot, **body)
    return shot


def test_hold_note_and_insert_land_where_they_were_asked_for(house: Set) -> None:
    shot = shot_of(house, 3)
    with house.page(shot) as page:
        open_review(page, 3)
        page.get_by_role("button", name="More: Hold").click()
        expect(page.locator(".edit-row .value")).to_have_text("2")
        page.get_by_role("button", name="Note").click()
        page.get_by_label("Note on this exposure").fill("ears up <b>here</b>")
        page.get_by_role("button", name="Save note").click()
        expect(page.locator(".where-note")).to_have_text("ears up <b>here</b>")  # text, not markup
        page.locator(".chart").press("Home")
        page.get_by_role("button", name="Insert after this exposure").click()
        expect(page.locator(".pad-does")).to_have_text("goes in after exposure 1")
        press_pad(page, 2)
    found = house.exposures(shot)
    assert [one["hold"] for one in found] == [1, 1, 1, 2]
    assert [one["note"] for one in found] == ["", "", "", "ears up <b>here</b>"]
    taken = [one["taken_at"] for one in found]
    assert taken[1] == max(taken)


def test_an_armed_retake_can_be_let_go(house: Set) -> None:
    shot = shot_of(house, 2)
    with house.page(shot) as page:
        open_review(page, 2)
        page.get_by_role("button", name="Retake").click()
        expect(page.locator(".armed")).to_contain_text("Retake of exposure 2")
        page.locator(".armed").get_by_role("button", name="Cancel").click()
        expect(page.locator(".pad-does")).to_have_text("next exposure")
        press_pad(page, 3)
    assert len(house.exposures(shot)) == 3


def test_undo_and_redo_say_what_they_do(house: Set) -> None:
    shot = shot_of(house, 2)
    with house.page(shot) as page:
        open_review(page, 2)
        page.get_by_role("button", name="Delete").click()
        expect(page.locator(".where-what")).to_have_text("exposure 1")
        says = house.api.ok("GET", f"/shots/{shot}")["undo_says"]
        undo = page.get_by_role("button", name=f"Undo: {says}")
        undo.click()
        until(lambda: len(house.exposures(shot)) == 2)
        page.locator(".edits").get_by_role("button", name="Redo").click()
        until(lambda: len(house.exposures(shot)) == 1)


def record_paints(page: Page, count: int) -> list[dict[str, object]]:
    """The next paints of Review's screen."""
    page.evaluate(
        """() => {
            const first = !window.paints;
            window.paints = [];
            const keep = event => window.paints.push(event.detail);
            if (first) document.addEventListener('painted', keep);
        }"""
    )
    page.get_by_role("button", name="Play", exact=True).click()
    until(lambda: page.evaluate("window.paints.length") >= count, 20)
    page.get_by_role("button", name="Pause").click()
    paints: list[dict[str, object]] = page.evaluate("window.paints")
    return paints


def test_playback_keeps_the_shots_rate_and_shows_every_frame(house: Set) -> None:
    shot = shot_of(house, 6)
    with house.page(shot) as page:
        open_review(page, 6)
        record_paints(page, 12)  # twice around: all is fetched
        paints = record_paints(page, 30)
    gaps = [float(str(b["at"])) - float(str(a["at"])) for a, b in pairwise(paints[2:])]
    # 12 fps is 83.3 ms; a screen of 60 Hz can only change every 16.7 ms.
    assert abs(median(gaps) - 1000 / 12) < 17, gaps
    assert abs(sum(gaps) / len(gaps) - 1000 / 12) < 17, gaps


def test_a_hold_lasts_as_long_as_its_frames(house: Set) -> None:
    shot = house.shot()
    for hold in (1, 4, 1):
        house.press(shot, hold=hold)
    with house.page(shot) as page:
        open_review(page, 3)
        record_paints(page, 6)
        paints = record_paints(page, 12)
    longest: dict[str, list[float]] = {}
    for a, b in pairwise(paints[1:]):
        longest.setdefault(str(a["url"]), []).append(float(str(b["at"])) - float(str(a["at"])))
    middle = sorted(median(gaps) for gaps in longest.values())
    # Less than a frame, so that no other count of frames would pass.
    assert abs(middle[-1] - 4000 / 12) < 80, middle


def test_the_live_pose_plays_as_the_next_frame(house: Set) -> None:
    shot = shot_of(house, 2)
    with house.page(shot) as page:
        open_review(page, 2)
        page.get_by_role("button", name="Live pose").click()
        page.get_by_role("button", name="One frame on").click()
        expect(page.locator(".where-what")).to_have_text("live pose, not taken yet")
        expect(page.get_by_role("button", name="Delete")).to_be_disabled()
        assert record_paints(page, 6)
        assert any(one["what"] == "pose" for one in page.evaluate("window.paints"))


def test_an_edit_by_another_remote_shows_at_once(house: Set) -> None:
    shot = shot_of(house, 3)
    with house.page(shot) as page:
        open_review(page, 3)
        first = house.exposures(shot)[0]["id"]
        house.api.ok("DELETE", f"/shots/{shot}/exposures/{first}")
        expect(page.locator(".where-what")).to_have_text("exposure 2")
        expect(page.locator(".chart").last).to_have_attribute("aria-valuemax", "2")


def test_a_flagged_exposure_is_told_with_word_and_shape_and_retaken_by_one_tap(house: Set) -> None:
    shot = shot_of(house, 2)
    until(lambda: all(one["verdict"] for one in house.exposures(shot)), 60, "for its own verdicts")
    flagged = {"state": "flagged", "says": "One lamp dimmed.", "figures": {}, "causes": []}
    verdict = {"state": "flagged", "watches": {"light": flagged}}

    def with_verdict(route: Route) -> None:
        answer = route.fetch()
        body = answer.json()
        body["items"][-1]["verdict"] = verdict
        route.fulfill(response=answer, json=body)

    with house.page() as page:
        page.route("**/exposures?*", with_verdict)
        open_on(page, house.service.url, shot)
        expect(page.locator(".flaw p")).to_have_text("Exposure 2, light: One lamp dimmed.")
        expect(page.locator(".flaw .icon-warning")).to_be_visible()
        page.locator(".flaw").get_by_role("button", name="Retake").click()
        expect(page.locator(".pad-does")).to_have_text("replaces exposure 2")
        expect(page.locator(".flaw")).to_be_hidden()
        page.get_by_role("link", name="Review").click()
        flaw = page.locator(".review-flaw")
        expect(flaw).to_have_text("light: One lamp dimmed.")
        with_flaw = page.locator(".transport").bounding_box()
        page.keyboard.press("ArrowLeft")
        expect(flaw).to_be_hidden()
        assert page.locator(".transport").bounding_box() == with_flaw, "nothing moves away"


def test_a_sound_is_laid_under_the_shot_marked_and_heard_by_frame(house: Set) -> None:
    shot = shot_of(house, 12)
    with house.page(shot) as page:
        open_review(page, 12)
        page.locator(".edits").get_by_role("button", name="Sound").click()
        squeak = {"name": "squeak.wav", "mimeType": "audio/wav", "buffer": knock(0.5)}
        page.get_by_label("Sound file").set_input_files(squeak)  # type: ignore[arg-type]
        expect(page.locator(".sound-name")).to_have_text("squeak.wav, 1.0 s")
        page.get_by_role("button", name="More: Starts").click()
        expect(page.locator(".sound-panel .value")).to_have_text("frame 2")
        page.locator(".chart").press("Home")
        page.get_by_label("Heard at this frame").fill("eek")
        other = {"marks": {"4": "plop"}}  # another remote marks meanwhile: the text stays
        house.api.ok("PUT", f"/shots/{shot}/sound/marks", json=other)
        page.get_by_role("button", name="Mark").click()
        expect(page.locator(".where-when")).to_contain_text("frame 2")
        page.evaluate("document.addEventListener('scrubbed', e => (window.heard = e.detail))")
        page.get_by_role("button", name="One frame on").click()
        until(lambda: page.evaluate("window.heard?.frame") == 3)
        heard = page.evaluate("window.heard")
    # Frame 3 is 2/12 s into the film; the sound starts a frame late: 1/12 s of it, for 1/12 s.
    assert abs(heard["at"] - 1 / 12) < 1e-9
    assert abs(heard["length"] - 1 / 12) < 1e-9
    kept = house.api.ok("GET", f"/shots/{shot}/sound/marks")
    assert kept["marks"] == {"1": "eek", "4": "plop"}
    assert kept["sound"]["offset_frames"] == 1
