"""What the watches tell on the page, in time: verdict, re-seat guide, report, steady test.

The hand at the tripod is scripted: another rehearsal set is taken up that stands elsewhere.
"""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import Set, press_pad
from tests.service import ServiceProcess
from tests.waiting import until

SLOW = 30_000  # ms; a busy machine takes its time for pictures and verdicts


@pytest.fixture(scope="module")
def nudged(chromium: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Set]:
    """A set whose camera is nudged at exposure 7."""
    library = tmp_path_factory.mktemp("nudged") / "library"
    with ServiceProcess(library, "rehearsal:seed=3,nudge=7") as service:
        made = Set(service, chromium)
        yield made
        made.api.close()


def stand(house: Set, orders: str) -> None:
    """The hand puts the camera there."""
    house.api.ok("PUT", "/camera", json={"id": f"rehearsal:{orders}"})
    house.api.wait_for_camera()


def judged(house: Set, shot: str, count: int) -> None:
    until(lambda: [bool(one["verdict"]) for one in house.exposures(shot)] == [True] * count, 60)


def open_view(page: Page, view: str) -> None:
    page.evaluate("view => location.hash = view", view)
    expect(page.locator(f".frame[data-view={view}]")).to_be_visible()


def test_a_nudge_shows_before_two_more_presses_and_the_guide_leads_back(nudged: Set) -> None:
    shot = nudged.shot()
    nudged.api.ok("POST", f"/shots/{shot}/exposures", json={"count": 6})
    judged(nudged, shot, 6)
    with nudged.page(shot) as page:
        expect(page.locator(".flaw")).to_be_hidden()
        press_pad(page, 7)
        press_pad(page, 8)
        expect(page.locator(".flaw p")).to_contain_text("bumped", timeout=SLOW)
        expect(page.locator(".flaw .icon-warning")).to_be_visible()
        assert len(nudged.exposures(shot)) == 8
        page.locator(".flaw").get_by_role("button", name="Re-seat").click()
        says = page.locator(".reseat-says .state")
        expect(says).to_contain_text("off the reference", timeout=SLOW)
        expect(page.locator(".seat")).to_have_attribute("data-state", "off")
        stand(nudged, "seed=3,nudge=1,nudge_px=0.8,nudge_deg=0.02")
        expect(page.locator(".seat-value").nth(2)).to_have_text("0.02°", timeout=SLOW)
        stand(nudged, "seed=3")
        expect(says).to_contain_text("lies on the reference", timeout=SLOW)
        expect(page.locator(".seat")).to_have_attribute("data-state", "within")
        page.get_by_role("button", name="Done").click()
        press_pad(page, 9)
        judged(nudged, shot, 9)
        rig = [one["verdict"]["watches"]["rig"] for one in nudged.exposures(shot)]
        assert [one["state"] == "flagged" for one in rig] == [False] * 6 + [True, True, False]
        page.get_by_role("link", name="Review").click()
        page.get_by_role("button", name="Report").click()
        row = page.locator(".report-row", has_text="bumped")
        expect(row.locator(".report-where")).to_have_text("7 to 8", timeout=SLOW)
        expect(page.locator(".report-figure[data-watch=rig] .report-flagged")).to_contain_text("2")
        row.click()
        expect(page.locator(".where-what")).to_have_text("exposure 7")
    until(lambda: nudged.api.ok("GET", "/camera/reseat")["on"] is False, 20)


def test_one_tap_accepts_a_change_as_the_new_reference(nudged: Set) -> None:
    stand(nudged, "seed=3,nudge=3")
    shot = nudged.shot()
    nudged.api.ok("POST", f"/shots/{shot}/exposures", json={"count": 3})
    with nudged.page(shot) as page:
        accept = page.locator(".flaw").get_by_role("button", name="Accept")
        expect(accept).to_be_visible(timeout=SLOW)
        accept.click()
        expect(page.locator(".flaw")).to_be_hidden()
        assert nudged.exposures(shot)[2]["verdict"]["accepted"] is True
        press_pad(page, 4)
        judged(nudged, shot, 4)
        assert nudged.exposures(shot)[3]["verdict"]["watches"]["rig"]["state"] == "clear"
        expect(page.locator(".flaw")).to_be_hidden()


def test_a_hand_left_in_gets_a_box_and_makes_no_reference(nudged: Set) -> None:
    stand(nudged, "seed=3,hand=4")
    shot = nudged.shot()
    nudged.api.ok("POST", f"/shots/{shot}/exposures", json={"count": 4})
    with nudged.page(shot) as page:
        expect(page.locator(".flaw p")).to_contain_text("reaches in", timeout=SLOW)
        expect(page.locator(".shoot .flaw-box-line")).to_be_visible()
        expect(page.locator(".flaw").get_by_role("button", name="Accept")).to_be_hidden()
        page.get_by_role("button", name="Leave it").click()
        expect(page.locator(".flaw")).to_be_hidden()


def test_the_steady_test_answers_in_words_and_figures(nudged: Set) -> None:
    stand(nudged, "seed=3")
    shot = nudged.shot()
    with nudged.page(shot) as page:
        page.get_by_role("link", name="Rig").click()
        steady = page.locator(".steady")
        expect(steady).to_contain_text("Not tested yet.")
        steady.get_by_role("button", name="Test the set").click()
        expect(steady).to_contain_text("Steady: nothing changed", timeout=120_000)
        expect(steady.locator("tbody tr")).to_have_count(4)
        found = nudged.api.ok("GET", f"/shots/{shot}/steady-test")
        expect(steady.locator("tbody")).to_contain_text(f"{found['noise']['shift_px']:.3f}")
    assert nudged.exposures(shot) == []


def test_thresholds_stand_in_the_unit_of_their_figure_and_are_set_for_the_shot(
    nudged: Set,
) -> None:
    stand(nudged, "seed=3")
    shot = nudged.shot()
    with nudged.page(shot) as page:
        open_view(page, "rig")
        page.get_by_text("From which size on a change is told").click()
        shift = page.get_by_label("Camera, shift, px")
        expect(shift).to_have_value("0.06")
        shift.fill("2.5")
        shift.blur()
        until(lambda: thresholds(nudged, shot)["shift_px"] == 2.5, 20)
        shift.fill("-1")  # refused, and told
        shift.blur()
        expect(shift).to_have_value("2.5")
        nudged.api.ok("POST", f"/shots/{shot}/exposures", json={"count": 1})
        stand(nudged, "seed=3,nudge=1,nudge_px=1.2,nudge_deg=0")
        nudged.api.ok("POST", f"/shots/{shot}/exposures", json={"count": 1})
        judged(nudged, shot, 2)
        rig = nudged.exposures(shot)[1]["verdict"]["watches"]["rig"]
        assert rig["figures"]["shift_px"] == pytest.approx(1.2, abs=0.05)
        assert (rig["state"], rig["thresholds"]["shift_px"]) == ("clear", 2.5)
        shift.fill("")
        shift.blur()
        expect(shift).to_have_value("0.06")
        assert thresholds(nudged, shot)["shift_px"] == 0.06


def thresholds(house: Set, shot: str) -> dict[str, float]:
    return dict(house.api.ok("GET", f"/shots/{shot}/thresholds"))


@pytest.mark.parametrize(("width", "height"), [(320, 640), (390, 844), (844, 390), (1280, 800)])
def test_report_and_guide_fit_every_screen(nudged: Set, width: int, height: int) -> None:
    stand(nudged, "seed=3")
    shot = nudged.shot("a cork with a rather long name that does not fit on a phone at all")
    nudged.press(shot)
    with nudged.page(shot, viewport={"width": width, "height": height}) as page:
        for view in ("report", "reseat"):
            open_view(page, view)
            for one in page.locator(f".{view} button:visible").all():
                box = one.bounding_box()
                assert box is not None
                assert box["height"] >= 44, (view, one.inner_text())
                assert box["x"] + box["width"] <= width + 0.5
            assert page.evaluate("document.documentElement.scrollWidth") <= width
