"""A phone as the camera, another as the remote: two Chromiums, over HTTPS with our CA trusted."""

import hashlib
import json
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import requests
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import PHONE, open_on, watched
from tests.handset_kit import (
    NAME,
    STEP_FRAMES,
    Cutter,
    SecureService,
    browser_at_home,
    free_port,
    handset_arguments,
    make_film,
    number_now,
    read_number,
    trusting_home,
)
from tests.waiting import until

EXPOSURES = 24
# What the page delivered, kept over a reload by the test itself.
KEEP_DELIVERED = """
addEventListener("delivered", ({ detail }) => {
  const all = JSON.parse(sessionStorage.getItem("delivered") ?? "[]");
  sessionStorage.setItem("delivered", JSON.stringify([...all, detail]));
});
"""


@dataclass
class Room:
    """A service, a network that can be cut, and two phones."""

    folder: Path
    service: SecureService
    network: Cutter
    session: requests.Session
    handset: Page
    remote: Page
    shot: str

    def api(self, method: str, path: str, **kwargs: Any) -> Any:
        url = f"https://127.0.0.1:{self.service.port}/api/v1{path}"
        answer = self.session.request(method, url, timeout=60, **kwargs)
        assert answer.ok, answer.text
        return answer.json() if answer.content else None

    def wait_for_camera(self) -> None:
        until(lambda: self.api("GET", "/camera")["state"] == "ready", 30, "for the handset")

    def count(self) -> int:
        return int(self.api("GET", f"/shots/{self.shot}")["exposure_count"])

    def delivered(self) -> list[dict[str, Any]]:
        kept = self.handset.evaluate("sessionStorage.getItem('delivered') ?? '[]'")
        return list(json.loads(kept))

    def restart(self) -> None:
        """The service stops and starts again on the same library and port."""
        assert self.service.stop() == 0
        self.service.__exit__()
        self.service = SecureService(self.folder, self.service.port)
        self.service.start()


@pytest.fixture
def room(chromium: Browser, tmp_path: Path) -> Iterator[Room]:
    port = free_port()
    film = make_film(tmp_path / "cork.mjpeg", 1280, 720, 300)
    with ExitStack() as stack:
        service = SecureService(tmp_path, port).start()
        home = trusting_home(tmp_path / "home", service.authority())
        network = Cutter(port)
        stack.callback(network.close)
        session = service.session()
        stack.callback(session.close)
        on_tripod = stack.enter_context(
            browser_at_home(chromium, home, *handset_arguments(film, "127.0.0.2"))
        )
        in_hand = stack.enter_context(browser_at_home(chromium, home))
        handset = stack.enter_context(watched(on_tripod.new_context(viewport=PHONE), own(port)))
        handset.add_init_script(KEEP_DELIVERED)
        handset.goto(f"https://{NAME}:{port}/handset#code={service.code()}")
        expect(handset.locator(".handset-state")).to_contain_text("ready", timeout=60_000)
        shot = session.post(
            f"{service.url}/api/v1/shots", json={"name": "the cork peeks"}, timeout=60
        )
        remote = stack.enter_context(paired_remote(in_hand, service))
        made = Room(tmp_path, service, network, session, handset, remote, str(shot.json()["id"]))
        made.wait_for_camera()
        open_on(remote, service.url, made.shot)
        try:
            yield made
        finally:
            made.service.__exit__()


def own(port: int) -> str:
    """The only address that the handset may speak to."""
    return f"https://{NAME}:{port}"


def paired_remote(browser: Browser, service: SecureService) -> Any:
    context = browser.new_context(viewport=PHONE, has_touch=True, service_workers="block")
    context.set_default_timeout(60_000)
    context.add_cookies(
        [
            {
                "name": "standclear",
                "value": service.token(),
                "domain": "127.0.0.1",
                "path": "/",
                "secure": True,
            }
        ]
    )
    return watched(context, service.url)


def press(room: Room, number: int) -> None:
    """Press on the remote once the cork has moved, until the service has so many exposures."""
    before = number_now(room.handset) // STEP_FRAMES
    until(lambda: number_now(room.handset) // STEP_FRAMES != before, 10, "for the cork's next step")
    room.remote.locator(".pad").click()
    until(lambda: room.count() == number or was_refused(room), 20, f"for exposure {number}")
    if room.count() != number:  # reported, not lost: the animator presses again
        room.wait_for_camera()
        press(room, number)
    expect(room.remote.locator(".pad-says")).to_contain_text(f"{number} kept")


def was_refused(room: Room) -> bool:
    return room.remote.locator(".pad").get_attribute("data-phase") == "failed"


def test_every_exposure_is_what_the_handset_sent_whatever_breaks(room: Room) -> None:
    for number in range(1, EXPOSURES + 1):
        if number == 9:
            room.handset.reload()
            room.wait_for_camera()
        if number == 15:
            room.network.cut_after(100_000)  # in the middle of the next upload
        if number == 20:
            room.restart()
            room.wait_for_camera()
            expect(room.remote.locator(".bar-state")).to_contain_text("camera ready")
        if number == 15:
            room.remote.locator(".pad").click()
            until(lambda: room.network.cuts == 1, 20, "for the cut")
            room.network.up.set()
            until(lambda: room.count() == 15 or was_refused(room), 20, "for the cut upload")
            room.wait_for_camera()
            if room.count() == 15:
                continue
        press(room, number)
    kept = room.api("GET", f"/shots/{room.shot}/exposures")["items"]
    assert [one["number"] for one in kept] == list(range(1, EXPOSURES + 1))
    base = f"https://127.0.0.1:{room.service.port}"
    files = [
        room.session.get(base + one["originals"][0]["url"], timeout=60).content for one in kept
    ]
    digests = [hashlib.sha256(file).hexdigest() for file in files]
    assert digests == [one["originals"][0]["sha256"] for one in kept]
    sent = {one["order"]: one["sha256"] for one in room.delivered()}
    assert digests == list(sent.values()), "each exactly once, in the order in which it was sent"
    assert len(sent) == EXPOSURES
    steps = [read_number(file) // STEP_FRAMES for file in files]
    assert all(one != other for one, other in pairwise(steps))
