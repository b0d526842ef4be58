"""The real service and a real Chromium at phone size.

Every page is watched: an error on its console, a fault of its own, or a request to any other host
fails the test that opened it (promise 8).
"""

import re
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.service import Api, ServiceProcess
from tests.waiting import until

PHONE = {"width": 390, "height": 844}
# Chromium itself writes these when a request is refused or cut; the page tells them in words.
EXPECTED_ON_CONSOLE = re.compile(
    r"Failed to load resource|WebSocket connection to .* failed|Service Worker registration blocked"
    r"|Cross-Origin-Opener-Policy header has been ignored"  # on plain http by name
)


# Two workers, each with a browser that paints on the processor, share a small machine.
expect.set_options(timeout=20_000)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """All tests in this folder need the browser."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.browser)


class Set:
    """A service with its library, and pages that are paired with it."""

    def __init__(self, service: ServiceProcess, chromium: Browser) -> None:
        self.service = service
        self.chromium = chromium
        self.token = service.token()
        self.api = Api(service.url, self.token)
        self.api.wait_for_camera()

    def shot(self, name: str = "the cork wakes", frame_rate: str = "12") -> str:
        """A new shot's id."""
        wish = {"name": name, "frame_rate": frame_rate}
        return str(self.api.ok("POST", "/shots", json=wish)["id"])

    def press(self, shot: str, **body: Any) -> Any:
        """An exposure taken by somebody else."""
        return self.api.ok("POST", f"/shots/{shot}/exposures", json=body)["items"][0]

    def exposures(self, shot: str) -> list[dict[str, Any]]:
        """What the service has, in order."""
        found: list[dict[str, Any]] = self.api.ok("GET", f"/shots/{shot}/exposures")["items"]
        return found

    @contextmanager
    def page(self, shot: str | None = None, **options: Any) -> Iterator[Page]:
        """A paired page; with ``shot`` it is open on Shoot and has its connection."""
        # Only the tests of installing want the page's files kept by the browser.
        options = {"viewport": PHONE, "has_touch": True, "service_workers": "block", **options}
        context = self.chromium.new_context(**options)
        context.set_default_timeout(60_000)
        host = urlsplit(self.service.url).hostname
        context.add_cookies(
            [{"name": "standclear", "value": self.token, "domain": host, "path": "/"}]
        )
        with watched(context, self.service.url) as page:
            if shot is not None:
                open_on(page, self.service.url, shot)
            yield page

    def freeze(self) -> None:
        """The service stops where it stands, its sockets stay open."""
        self.service.process.send_signal(signal.SIGSTOP)

    def thaw(self) -> None:
        """It goes on."""
        self.service.process.send_signal(signal.SIGCONT)


@contextmanager
def watched(context: BrowserContext, url: str) -> Iterator[Page]:
    """A page whose faults and foreign requests fail the test."""
    wrong: list[str] = []
    own = urlsplit(url).netloc

    def heard(message: Any) -> None:
        if message.type in ("error", "warning") and not EXPECTED_ON_CONSOLE.search(message.text):
            wrong.append(f"console: {message.text}")

    def asked(request: Any) -> None:
        parts = urlsplit(request.url)
        if parts.scheme not in ("data", "blob") and parts.netloc != own:
            wrong.append(f"request to another host: {request.url}")

    page = context.new_page()
    page.on("console", heard)
    page.on("pageerror", lambda error: wrong.append(f"fault: {error}"))
    page.on("websocket", asked)
    context.on("request", asked)
    try:
        yield page
        assert page.locator("#faults").is_hidden(), page.locator("#faults").inner_text()
    finally:
        context.close()
    assert not wrong, wrong


def open_on(page: Page, url: str, shot: str) -> None:
    """Open the page on this shot, connected and showing a picture."""
    page.add_init_script(
        f"if (!localStorage.getItem('standclear.shot')) "
        f"localStorage.setItem('standclear.shot', '{shot}')"
    )
    page.goto(url)
    expect(page.locator(".bar-state")).to_contain_text("camera ready")
    expect(page.locator(".stage-says .state")).to_have_text("live")


def press_pad(page: Page, number: int) -> None:
    """Press the pad and wait until the page says that this exposure is kept."""
    page.locator(".pad").click()
    expect(page.locator(".pad-says")).to_contain_text(f"{number} kept")


@pytest.fixture(scope="session")
def house(chromium: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Set]:
    """One service for all tests that leave it as it is; each takes a shot of its own."""
    library = tmp_path_factory.mktemp("browser") / "library"
    with ServiceProcess(library) as service:
        made = Set(service, chromium)
        yield made
        made.api.close()


@pytest.fixture
def own_house(chromium: Browser, tmp_path: Path) -> Iterator[Set]:
    """A service that the test may freeze, end, or make strange."""
    with ServiceProcess(tmp_path / "library") as service:
        made = Set(service, chromium)
        try:
            yield made
        finally:
            made.thaw()
            made.api.close()


def wait_for_count(house: Set, shot: str, count: int) -> None:
    """Until the service has so many exposures."""
    until(lambda: len(house.exposures(shot)) == count, 10, f"for {count} exposures")
