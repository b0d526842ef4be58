"""The handset's page: its settings, its screen, its warnings, and how a phone comes to trust us."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import requests
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.conftest import PHONE, watched
from tests.browser.test_axe import AXE, violations
from tests.handset_kit import (
    NAME,
    SecureService,
    browser_at_home,
    free_port,
    handset_arguments,
    trusting_home,
)
from tests.service import ServiceProcess
from tests.waiting import until


@dataclass
class Tripod:
    """A service, and a browser that is a phone on a tripod with Chromium's own test camera."""

    service: SecureService
    browser: Browser
    session: requests.Session

    def camera(self) -> Any:
        return self.session.get(f"{self.service.url}/api/v1/camera", timeout=60).json()

    def settings(self) -> Any:
        return self.session.get(f"{self.service.url}/api/v1/camera/settings", timeout=60).json()

    def set(self, **values: str) -> requests.Response:
        url = f"{self.service.url}/api/v1/camera/settings"
        return self.session.patch(url, json=values, timeout=60)

    @contextmanager
    def page(self, script: str = "", **options: Any) -> Iterator[Page]:
        """The page, paired and ready."""
        context = self.browser.new_context(**{"viewport": PHONE, "has_touch": True, **options})
        context.add_cookies([self.cookie()])
        if script:
            context.add_init_script(script)
        with watched(context, self.service.url) as page:
            page.goto(f"{self.service.url}/handset")
            self.ready(page)
            yield page

    def cookie(self) -> Any:
        token = self.service.token()
        where = {"domain": "127.0.0.1", "path": "/", "secure": True}
        return {"name": "standclear", "value": token, **where}

    def ready(self, page: Page) -> None:
        expect(page.locator(".handset-state")).to_contain_text("ready", timeout=60_000)
        until(lambda: self.camera()["state"] == "ready", 30, "for the handset")


@pytest.fixture(scope="module")
def tripod(chromium: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Tripod]:
    folder = tmp_path_factory.mktemp("tripod")
    with (
        SecureService(folder, free_port()) as service,
        service.session() as session,
        browser_at_home(
            chromium,
            trusting_home(folder / "home", service.authority()),
            *handset_arguments(None, "127.0.0.1"),
        ) as browser,
    ):
        yield Tripod(service, browser, session)


SYSTEMS = ("Android", "iOS and iPadOS", "Windows", "macOS", "Linux")
NOW = "document.querySelector('video').srcObject.getVideoTracks()[0].getSettings()"


def test_what_is_set_on_the_remote_is_set_on_the_track_and_again_after_a_reload(
    tripod: Tripod,
) -> None:
    with tripod.page() as page:
        offered = tripod.settings()
        assert "1/125" in offered["shutter"]["choices"]
        tripod.set(exposure_mode="automatic")  # Chromium's test camera stays on manual
        told = tripod.settings()["exposure_mode"]["automatic"]
        assert told == (page.evaluate(NOW)["exposureMode"] != "manual"), "as it is, not as ordered"
        answer = tripod.set(shutter="1/125")
        assert answer.ok, answer.text
        assert answer.json()["shutter"]["automatic"] is False
        now = page.evaluate(NOW)
        assert now["exposureMode"] == "manual"
        assert now["exposureTime"] == 80  # 1/125 s in units of 100 µs
        page.reload()
        tripod.ready(page)
        assert page.evaluate(NOW)["exposureTime"] == 80
        words = page.locator(".handset-automatic").inner_text()
        assert "Stays automatic in this browser: ISO" in words
        assert "Can be set from the remote, under Rig: shutter" in words


def test_a_setting_that_the_track_lacks_is_refused_in_words(tripod: Tripod) -> None:
    with tripod.page():
        refused = tripod.set(iso="100")
        assert refused.status_code == 422
        assert "iso" in refused.json()["detail"]


def test_the_page_holds_the_screen_awake_and_goes_black_by_itself(tripod: Tripod) -> None:
    script = """
      const request = navigator.wakeLock.request.bind(navigator.wakeLock);
      navigator.wakeLock.request = (kind) => ((window.held = kind), request(kind));
    """
    with tripod.page(script) as page:
        assert page.evaluate("window.held") == "screen"
        page.get_by_role("button", name="Go black").click()
        expect(page.locator("#dark")).to_be_visible()
        page.touchscreen.tap(200, 300)
        expect(page.locator("#dark")).to_be_hidden()
        expect(page.locator("#dark")).to_be_visible(timeout=25_000)  # 15 s untouched


WATCH_DARK = """
window.dark = 0;
const page = document.documentElement;
new MutationObserver(() => (window.dark += page.hasAttribute("data-dark") ? 1 : 0))
  .observe(page, { attributeFilter: ["data-dark"] });
"""


def test_the_page_is_black_while_its_picture_is_taken_and_light_again_after(
    tripod: Tripod,
) -> None:
    with tripod.page() as page:
        page.evaluate(WATCH_DARK)
        shots = f"{tripod.service.url}/api/v1/shots"
        shot = tripod.session.post(shots, json={"name": "the cork blinks"}, timeout=60).json()
        taken = tripod.session.post(f"{shots}/{shot['id']}/exposures", json={}, timeout=60)
        assert taken.status_code == 201, taken.text
        assert page.evaluate("window.dark") == 1
        expect(page.locator("#dark")).to_be_hidden()
        expect(page.locator(".handset-facts")).to_contain_text("1 picture delivered")


@pytest.mark.parametrize("charging", [False, True])
def test_a_low_battery_is_told_on_the_page_and_to_the_remote(
    tripod: Tripod, charging: bool
) -> None:
    battery = f"{{ level: 0.2, charging: {str(charging).lower()}, addEventListener() {{}} }}"
    with tripod.page(f"navigator.getBattery = async () => ({battery});") as page:
        until(lambda: tripod.camera()["battery_percent"] == 20, 20, "for the battery")
        told = [one for one in tripod.camera()["warnings"] if "battery is at 20 %" in one]
        assert len(told) == (0 if charging else 1)
        expect(page.locator(".handset-warnings", has_text="20 %")).to_have_count(len(told))


def test_a_turned_phone_is_told(tripod: Tripod) -> None:
    with tripod.page() as page:
        lies = page.evaluate("screen.orientation.type")
        turned = "landscapePrimary" if lies.startswith("portrait") else "portraitPrimary"
        page.context.new_cdp_session(page).send(
            "Emulation.setDeviceMetricsOverride",
            {
                "width": 844,
                "height": 390,
                "deviceScaleFactor": 1,
                "mobile": True,
                "screenOrientation": {"type": turned, "angle": 90},
            },
        )
        expect(page.locator(".handset-warnings")).to_contain_text("turned")
        until(lambda: any("turned" in one for one in tripod.camera()["warnings"]), 20)


FRAMES_AT = """
async (rates) => {
  const { FramePace } = await import("/models/handset-health.js");
  const pace = new FramePace();
  let at = 1000, slow = false;
  return rates.map(([rate, seconds]) => {
    for (const end = at + seconds * 1000; at < end; at += 1000 / rate) slow = pace.frame(at);
    return slow;
  });
}
"""


def test_frames_that_come_ever_slower_tell_of_heat_and_a_stutter_does_not(tripod: Tripod) -> None:
    with tripod.page() as page:
        steady = page.evaluate(FRAMES_AT, [[30, 60], [15, 4], [30, 60], [25, 60]])
        assert steady == [False] * 4
        assert page.evaluate(FRAMES_AT, [[30, 60], [15, 30]]) == [False, True]
        assert page.evaluate(FRAMES_AT, [[30, 60], [15, 30], [30, 20]]) == [False, True, False]


def test_its_pages_have_no_barrier_that_axe_can_find(tripod: Tripod) -> None:
    if not AXE.is_file():
        pytest.skip(f"axe-core is not at {AXE}: deploy/test.sh installs it")
    with tripod.page(bypass_csp=True) as page:
        wrong = [f"camera: {one}" for one in violations(page)]
        page.goto(f"{tripod.service.url}/trust")
        for system in SYSTEMS:
            page.get_by_text(system, exact=True).click()
        wrong += [f"trust: {one}" for one in violations(page)]
        page.context.clear_cookies()
        page.goto(f"{tripod.service.url}/handset")
        expect(page.locator(".pair-lead")).to_contain_text("becomes the camera")
        wrong += [f"code: {one}" for one in violations(page)]
    assert not wrong, "\n".join(wrong)


def test_a_second_page_takes_the_place_and_the_first_does_not_fight(tripod: Tripod) -> None:
    with tripod.page() as first, tripod.page():
        expect(first.locator(".handset-state")).to_contain_text("another page is this camera")
        first.get_by_role("button", name="Be the camera again").click()
        tripod.ready(first)


def test_a_phone_that_trusts_us_is_sent_on_with_its_code(tripod: Tripod) -> None:
    with remote_free(tripod.browser) as context, watched(context, tripod.service.url) as page:
        plain = tripod.service.url.replace("https", "http")
        page.goto(f"{plain}/handset#code={tripod.service.code()}")
        tripod.ready(page)
        assert page.url == f"{tripod.service.url}/handset"
        page.goto(tripod.service.url)
        expect(page.locator(".pair-lead")).to_contain_text(
            "remote"
        )  # a camera's code is not enough


@contextmanager
def remote_free(browser: Browser) -> Iterator[BrowserContext]:
    """A phone that is not paired; its steps over plain HTTP are no foreign requests."""
    context = browser.new_context(viewport=PHONE, has_touch=True, service_workers="block")
    yield context
    context.close()


def test_a_phone_that_does_not_trust_us_is_led(tripod: Tripod, chromium: Browser) -> None:
    context = chromium.new_context(viewport=PHONE)
    page = context.new_page()
    page.goto(tripod.service.url.replace("https", "http") + "/handset")
    expect(page.get_by_role("heading", level=1)).to_have_text("Trust this computer")
    printed = tripod.service.find(r"certificate fingerprint: (\S+)")
    expect(page.locator("#trust-fingerprint")).to_have_text(printed)
    for system in SYSTEMS:
        page.get_by_text(system, exact=True).click()
    expect(page.get_by_text("Certificate Trust Settings")).to_be_visible()
    with page.expect_download() as download:
        page.get_by_role("link", name="Get the certificate").click()
    assert Path(download.value.path()).read_bytes() == tripod.service.authority().read_bytes()
    context.close()


def test_over_plain_http_the_page_says_what_it_cannot_do(chromium: Browser, tmp_path: Path) -> None:
    with (
        ServiceProcess(tmp_path / "library", "handset", "--name", NAME) as service,
        browser_at_home(chromium, tmp_path, *handset_arguments(None, "127.0.0.1")) as browser,
    ):
        page = browser.new_page(viewport=PHONE)
        page.goto(service.url.replace("127.0.0.1", NAME) + "/handset")
        expect(page.get_by_role("heading", level=1)).to_have_text("The camera needs HTTPS")
        expect(page.locator("main")).to_contain_text("The remote does without")
