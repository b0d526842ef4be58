"""The step-back trigger on the page: frames with no press at all, what it says, shows, asks.

STANDCLEAR_LONG=1: 24 frames, and the same 24 by pressing."""

import os
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import Set, wait_for_count
from tests.service import ServiceProcess
from tests.waiting import until

CAMERA = "rehearsal:seed=2,hand_first=4,hand_seconds=1.2,hand_after=0.5"
LINGERING = "rehearsal:seed=2,hand_first=4,hand_seconds=12,hand_after=0.5"
LONG = os.environ.get("STANDCLEAR_LONG") == "1"
FRAMES = 24 if LONG else 6


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


def pace(house: Set, shot: str) -> float:
    """Seconds from pose to pose."""
    taken = [one["taken_at"] for one in house.exposures(shot)]
    clock = [
        time.mktime(time.strptime(at[:19], "%Y-%m-%dT%H:%M:%S")) for at in (taken[0], taken[-1])
    ]
    return (clock[1] - clock[0]) / max(1, len(taken) - 1)


def test_a_second_or_two_without_a_press_and_their_playback(posed: Set) -> None:
    shot = posed.shot()
    with posed.page(shot) as page:
        sees = page.locator("canvas.sees")
        expect(sees).to_be_hidden()
        choose_step_back(page)
        expect(page.locator(".pad-says")).to_contain_text("Hands are in the picture")
        expect(sees).to_be_visible()
        seen = "c => c.getContext('2d').getImageData(0, 0, c.width, c.height).data.some(v => v > 0)"
        until(lambda: sees.evaluate(seen), 20, "for the mask to show the hand")
        until(lambda: len(posed.exposures(shot)) >= FRAMES, 240, f"for {FRAMES} frames")
        page.get_by_role("button", name="More").click()
        page.get_by_role("radio", name="at once").click()
        posed.api.ok("PUT", "/trigger", json={"mode": "manual"})
        page.get_by_role("button", name="Close").click()
        page.get_by_role("link", name="Review").click()
        page.get_by_role("button", name="Play", exact=True).click()
        until(lambda: page.locator(".where-what").text_content() == f"exposure {FRAMES // 2}", 30)
    exposures = posed.exposures(shot)
    assert [one["number"] for one in exposures] == list(range(1, len(exposures) + 1))
    assert len({one["originals"][0]["sha256"] for one in exposures}) == len(exposures)
    print(f"\nby the trigger: {pace(posed, shot):.2f} s from picture to picture")


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
            expect(page.locator(".pad")).to_have_accessible_name("Press to go on")
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
