"""The step-back trigger on the page: frames with no press at all, what it says, shows, asks.

STANDCLEAR_LONG=1: 24 frames, and the same 24 by pressing."""

import os
import re
import time
from collections.abc import Iterator
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from statistics import median

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import Set, press_pad, wait_for_count
from tests.service import ServiceProcess
from tests.waiting import until

CAMERA = "rehearsal:seed=2,hand_first=4,hand_seconds=1.2,hand_after=0.5"
LINGERING = "rehearsal:seed=2,hand_first=4,hand_seconds=12,hand_after=0.5"
LONG = os.environ.get("STANDCLEAR_LONG") == "1"
FRAMES = 24 if LONG else 4
HAND_GONE_S = 0.5 + 1.2 + 0.8  # after the exposure, until in, for its work and out; and a margin


@pytest.fixture(scope="module")
def posed(chromium: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Set]:
    """A rehearsal set whose hand poses by itself."""
    with ServiceProcess(tmp_path_factory.mktemp("posed") / "library", CAMERA) as service:
        made = Set(service, chromium)
        yield made
        made.api.close()


def choose_step_back(page: Page) -> None:
    page.get_by_role("button", name="More").click()
    page.get_by_role("radio", name="step back").click()
    expect(page.get_by_role("radio", name="step back")).to_have_attribute("aria-checked", "true")
    page.get_by_role("button", name="Close").click()


def taken_at(house: Set, shot: str) -> list[datetime]:
    """When each exposure of the shot was taken."""
    return [datetime.fromisoformat(one["taken_at"]) for one in house.exposures(shot)]


def told_pace(page: Page, house: Set, shot: str) -> float:
    """Pictures an hour as the page tells them, held to the report and to the exposures' times."""
    page.evaluate("location.hash = 'plan'")
    page.get_by_role("radio", name="Actual", exact=True).click()
    pace = house.api.ok("GET", f"/shots/{shot}/report")["plan"]["pace"]
    hourly = round(pace["pictures_an_hour"])
    expect(page.locator(".actual-pace")).to_contain_text(f"{hourly} pictures an hour")
    gaps = [(b - a).total_seconds() for a, b in pairwise(taken_at(house, shot))]
    assert pace["median_seconds"] == pytest.approx(median(gaps), abs=0.01)
    return float(pace["pictures_an_hour"])


def all_poses_differ(house: Set, shot: str, count: int) -> None:
    """So many exposures, of as many poses, and no hand left in any."""
    until(lambda: all(one["verdict"] for one in house.exposures(shot)), 120, "for the verdicts")
    found = house.exposures(shot)
    assert [one["number"] for one in found] == list(range(1, count + 1))
    for one in found[1:]:
        causes = one["verdict"]["watches"]["pose"]["causes"]
        assert not {"same_pose", "hand_left_in"} & set(causes), (one["number"], causes)


def test_frames_without_a_press_their_playback_and_their_pace_beside_that_of_pressing(
    posed: Set,
) -> None:
    shot, pressed = posed.shot("without a press"), posed.shot("by pressing")
    with posed.page(shot) as page:
        without_a_press(posed, page, shot)
        all_poses_differ(posed, shot, FRAMES)
        by_trigger = told_pace(page, posed, shot)
    with posed.page(pressed) as page:
        by_pressing(page)
        all_poses_differ(posed, pressed, FRAMES)
        by_hand = told_pace(page, posed, pressed)
    print(f"\npictures an hour: {by_trigger:.0f} by the trigger, {by_hand:.0f} by pressing")


def without_a_press(posed: Set, page: Page, shot: str) -> None:
    """So many frames by the trigger, which then holds back by itself; and their playback."""
    sees = page.locator("canvas.sees")
    expect(sees).to_be_hidden()
    wish = {"mode": "step_back", "shot": shot, "limit": FRAMES}
    choose_step_back(page)
    posed.api.ok("PUT", "/trigger", json=wish)
    expect(page.locator(".pad-says")).to_contain_text("Hands are in the picture")
    expect(sees).to_be_visible()
    seen = "c => c.getContext('2d').getImageData(0, 0, c.width, c.height).data.some(v => v > 0)"
    until(lambda: sees.evaluate(seen), 20, "for the mask to show the hand")
    until(lambda: len(posed.exposures(shot)) >= FRAMES, 240, f"for {FRAMES} frames")
    expect(page.locator(".pad-says")).to_contain_text("Press to go on", timeout=30_000)
    page.get_by_role("button", name="More").click()
    page.get_by_role("radio", name="at once").click()
    page.get_by_role("button", name="Close").click()
    until(lambda: posed.api.ok("GET", "/trigger")["mode"] == "manual", 20)
    page.get_by_role("link", name="Review").click()
    page.get_by_role("button", name="Play", exact=True).click()
    until(lambda: page.locator(".where-what").text_content() == f"exposure {FRAMES // 2}", 30)


def by_pressing(page: Page) -> None:
    """The same by pressing, each time when the set's hand must be gone by its own schedule."""
    for number in range(1, FRAMES + 1):
        press_pad(page, number)
        gone = time.monotonic() + HAND_GONE_S
        until(lambda gone=gone: time.monotonic() > gone, 20, "for the hand to be gone")


def test_a_touch_holds_it_back_and_the_pad_goes_on(chromium: Browser, tmp_path: Path) -> None:
    with ServiceProcess(tmp_path / "library", LINGERING) as service:
        house = Set(service, chromium)
        shot = house.shot()
        with house.page(shot) as page:
            choose_step_back(page)
            expect(page.locator(".pad-says")).to_contain_text("Hands are in")
            page.locator(".pad").click()
            expect(page.locator(".pad-says")).to_contain_text("Held back")
            expect(page.locator(".pad")).to_have_attribute("data-tone", "warning")
            expect(page.locator(".pad")).to_have_accessible_name(re.compile("^Press to go on: "))
            assert house.exposures(shot) == []
        house.api.close()


def test_ask_first_waits_for_the_press_and_a_clicker_key_is_one(
    chromium: Browser, tmp_path: Path
) -> None:
    with ServiceProcess(tmp_path / "library", CAMERA) as service:
        house = Set(service, chromium)
        shot = house.shot()
        with house.page(shot) as page:
            choose_step_back(page)
            page.get_by_role("button", name="More").click()
            page.get_by_role("radio", name="asks first").click()
            until(lambda: house.api.ok("GET", "/trigger").get("only_ask"), 10)
            page.get_by_role("button", name="Close").click()
            expect(page.locator(".pad-says")).to_contain_text("Ready: press", timeout=30_000)
            assert house.exposures(shot) == []
            page.keyboard.press("PageDown")
            wait_for_count(house, shot, 1)
        house.api.close()


def test_each_state_has_a_sound_of_its_own_that_can_be_silenced(house: Set) -> None:
    with house.page(house.shot()) as page:
        notes = page.evaluate(
            """async () => {
              const { notesOf } = await import("/models/stepback.js");
              const states = ["learning", "watching", "hands_in", "settling", "asking", "blocked",
                "blind", "held_back", "rest"];
              return states.map((state) => notesOf(state).join());
            }"""
        )
        assert all(notes)
        assert len(set(notes)) == len(notes)
        played = page.evaluate(
            """async () => {
              const { soundStepBack } = await import("/views/stepback-sound.js");
              const { Store } = await import("/models/store.js");
              const trigger = new Store({ mode: "step_back", state: "watching" });
              const look = new Store({ stateSounds: true });
              const played = [];
              soundStepBack({ app: { trigger }, look }, { soft: (n) => played.push(n.length) });
              trigger.patch({ state: "hands_in" });
              trigger.patch({ figures: {} });
              trigger.patch({ state: "counting", left_s: 1.4 });
              trigger.patch({ left_s: 0.9 });
              const loud = played.length;
              look.patch({ stateSounds: false });
              trigger.patch({ state: "asking" });
              look.patch({ stateSounds: true });
              trigger.patch({ state: "blocked", mute: true });
              return [loud, played.length];
            }"""
        )
        assert played == [4, 4]  # hands in, counting (no note of its own), two taps
