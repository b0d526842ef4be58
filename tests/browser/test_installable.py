"""The page can be put on the home screen and comes up without the service, which it then says.

What is asked of it: W3C Web Application Manifest (members, icon purposes), and Chromium's own
judgement, asked for through the Chrome DevTools Protocol (Page.getAppManifest,
Page.getInstallabilityErrors).
"""

import io
import json
import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import numpy as np
import pytest
from flask import Flask
from PIL import Image
from playwright.sync_api import Browser, Page, expect
from werkzeug.serving import make_server

from standclear.web import page as pages
from standclear.web import shell
from tests.browser.conftest import PHONE, Set, open_on, press_pad
from tests.service import ServiceProcess
from tests.waiting import until

WEBCLIENT = Path(__file__).parents[2] / "webclient"
KEPT = """async () => {
    const all = {};
    for (const name of await caches.keys())
        all[name] = (await (await caches.open(name)).keys()).map(one => new URL(one.url).pathname);
    return all;
}"""


@pytest.fixture(scope="module")
def manifest(house: Set) -> dict[str, Any]:
    answer = house.api.session.get(f"{house.service.url}/manifest.webmanifest", timeout=10)
    assert answer.headers["Content-Type"].startswith("application/manifest+json")
    found: dict[str, Any] = json.loads(answer.text)
    return found


def test_the_manifest_says_what_a_home_screen_needs(manifest: dict[str, Any]) -> None:
    for member in ("name", "short_name", "start_url", "id", "background_color", "theme_color"):
        assert manifest[member], member
    assert len(manifest["short_name"]) <= 12  # longer ones are cut off under an icon
    assert manifest["display"] == "standalone"
    assert manifest["start_url"].startswith(manifest["scope"])


def test_each_icon_is_what_the_manifest_says_of_it(house: Set, manifest: dict[str, Any]) -> None:
    sizes = set()
    for icon in manifest["icons"]:
        answer = house.api.session.get(f"{house.service.url}/{icon['src']}", timeout=10)
        assert answer.ok, icon
        assert answer.headers["Content-Type"].split(";")[0] == icon["type"]
        assert len(answer.content) < 20_000
        if icon["type"] == "image/png":
            with Image.open(io.BytesIO(answer.content)) as image:
                assert icon["sizes"] == f"{image.width}x{image.height}"
                sizes.add((image.width, icon.get("purpose", "any")))
    assert {(192, "any"), (512, "any"), (512, "maskable")} <= sizes


def test_the_icons_are_the_drawing_as_the_browser_draws_it(chromium: Browser) -> None:
    with chromium.new_page(viewport={"width": 512, "height": 512}) as page:
        page.goto((WEBCLIENT / "icon.svg").as_uri())
        drawn = np.asarray(Image.open(io.BytesIO(page.screenshot())).convert("RGB"), float)
    with Image.open(WEBCLIENT / "icons" / "512.png") as kept:
        ground = Image.new("RGBA", kept.size, "white")
        ours = np.asarray(Image.alpha_composite(ground, kept).convert("RGB"), float)
    assert np.abs(drawn - ours).mean() < 1.0


def test_a_maskable_icon_has_its_drawing_in_the_safe_zone() -> None:
    """W3C Web Application Manifest: a circle of radius 2/5 of the icon's size."""
    with Image.open(WEBCLIENT / "icons" / "512-maskable.png") as icon:
        pixels = np.asarray(icon.convert("RGBA"), int)
    assert (pixels[..., 3] == 255).all()
    drawn = np.argwhere(pixels[..., :3].sum(axis=2) > 200)
    assert len(drawn) > 1000
    assert np.hypot(*(drawn - 255.5).T).max() <= 0.4 * 512


def test_chromium_finds_nothing_against_installing(house: Set) -> None:
    with house.page(house.shot(), service_workers="allow") as page:
        page.evaluate("navigator.serviceWorker.ready")
        session = page.context.new_cdp_session(page)
        read = session.send("Page.getAppManifest")
        assert read["errors"] == []
        assert read["url"] == f"{house.service.url}/manifest.webmanifest"
        found = session.send("Page.getInstallabilityErrors")["installabilityErrors"]
        # A private window, as each test has one, never installs anything.
        assert [one for one in found if one["errorId"] != "in-incognito"] == []


def test_the_page_alone_is_kept_never_state_nor_pictures(house: Set) -> None:
    shot = house.shot()
    with house.page(shot, service_workers="allow") as page:
        press_pad(page, 1)
        page.evaluate("navigator.serviceWorker.ready")
        page.reload()
        expect(page.locator(".bar-state")).to_contain_text("camera ready")
        assert page.evaluate("navigator.serviceWorker.controller !== null")
        press_pad(page, 2)
        [kept] = page.evaluate(KEPT).values()
    assert set(kept) == set(shell.describe(WEBCLIENT)["files"])
    assert not [one for one in kept if one.startswith("/api")]


def test_without_the_service_the_page_comes_up_and_says_so_and_goes_on_when_it_is_back(
    own_house: Set,
) -> None:
    shot = own_house.shot()
    port = str(urlsplit(own_house.service.url).port)
    with own_house.page(shot, service_workers="allow") as page:
        page.evaluate("navigator.serviceWorker.ready")
        own_house.service.stop()
        page.reload()
        expect(page.locator(".pair")).to_contain_text("The service does not answer.")
        expect(page.locator("input")).to_have_count(0)  # no code is asked for in vain
        with ServiceProcess(own_house.service.library, "rehearsal", "--port", port):
            expect(page.locator(".bar-state")).to_contain_text("camera ready")
            press_pad(page, 1)


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """A page's folder by itself, without a service behind it."""
    app = Flask(__name__, static_folder=None)
    app.register_blueprint(shell.blueprint(folder))
    app.register_blueprint(pages.blueprint(folder))
    server = make_server("127.0.0.1", 0, app, threaded=True)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.port}"
    finally:
        server.shutdown()
        thread.join(5)
        server.server_close()


def test_a_newer_page_replaces_the_kept_one_at_the_next_opening(
    chromium: Browser, tmp_path: Path
) -> None:
    folder = tmp_path / "webclient"
    folder.mkdir()
    shutil.copy(WEBCLIENT / "service-worker.js", folder)
    index = "<!doctype html><script type=module src=main.js></script><p id=says></p>"
    (folder / "index.html").write_text(index)
    tell = "document.getElementById('says').textContent = '{}'"
    (folder / "main.js").write_text(tell.format("first"))
    with served(folder) as url, chromium.new_page() as page:
        page.goto(url)
        page.evaluate("navigator.serviceWorker.register('service-worker.js')")
        page.evaluate("navigator.serviceWorker.ready")
        until(lambda: page.evaluate("navigator.serviceWorker.controller !== null"))
        page.reload()
        expect(page.locator("#says")).to_have_text("first")
        (folder / "main.js").write_text(tell.format("the second"))
        page.reload()
        expect(page.locator("#says")).to_have_text("the second")
        assert len(page.evaluate(KEPT)) == 1


def asked_for_locks(page: Page) -> int:
    """How many screen locks are held now."""
    return int(page.evaluate("locks.filter(one => !one.released).length"))


def test_the_screen_is_kept_awake_while_the_page_is_paired(house: Set) -> None:
    shot = house.shot()
    with house.page() as page:
        page.add_init_script(
            "window.locks = []; const ask = navigator.wakeLock.request.bind(navigator.wakeLock);"
            "navigator.wakeLock.request = async kind => {"
            " const lock = await ask(kind); window.locks.push(lock); return lock; }"
        )
        open_on(page, house.service.url, shot)
        until(lambda: asked_for_locks(page) == 1, 10, "for the screen lock")


def test_where_the_browser_cannot_the_page_does_without(house: Set) -> None:
    """As on plain http by any other name than localhost."""
    shot = house.shot()
    context_options = {"viewport": PHONE}
    with house.page(**context_options) as page:
        page.add_init_script(
            "for (const one of ['serviceWorker', 'wakeLock']) delete Navigator.prototype[one]"
        )
        open_on(page, house.service.url, shot)
        assert page.evaluate("'serviceWorker' in navigator || 'wakeLock' in navigator") is False
        press_pad(page, 1)
