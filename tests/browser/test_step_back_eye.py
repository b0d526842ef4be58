"""A camera without live picture: the page says so, and another camera beside it becomes the
step-back trigger's eye, chosen in Rig."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from tests.browser.conftest import Set
from tests.browser.test_step_back_page import choose_step_back
from tests.pictures import jpeg
from tests.service import ServiceProcess
from tests.waiting import until


@pytest.fixture
def blind(chromium: Browser, tmp_path: Path) -> Iterator[Set]:
    """libgphoto2's own virtual camera, which has no live picture."""
    sees = tmp_path / "sees"
    sees.mkdir()
    (sees / "view.jpg").write_bytes(jpeg(640, 480))
    env = {"VCAMERADIR": str(sees)}
    with ServiceProcess(tmp_path / "library", "tethered", env=env) as service:
        made = Set(service, chromium)
        yield made
        made.api.close()


def test_without_a_live_picture_it_says_so_and_rig_lends_it_another_eye(blind: Set) -> None:
    shot = blind.shot()
    with blind.page() as page:
        page.add_init_script(f"localStorage.setItem('standclear.shot', '{shot}')")
        page.goto(blind.service.url)
        expect(page.locator(".bar-state")).to_contain_text("camera ready")
        page.get_by_role("button", name="More").click()
        page.get_by_role("radio", name="step back").click()
        expect(page.locator(".notice")).to_contain_text("self-timer")
        assert blind.api.ok("GET", "/trigger")["mode"] == "manual"
        page.locator(".notice").get_by_role("button", name="Close").click()
        page.get_by_role("button", name="Close").click()

        page.get_by_role("link", name="Rig").click()
        eye = page.get_by_label("Eye of the step-back trigger")
        expect(eye).to_have_value("")
        eye.select_option("rehearsal")
        page.get_by_role("link", name="Shoot").click()
        choose_step_back(page)
        until(lambda: blind.api.ok("GET", "/trigger").get("state") == "watching", 30)
        assert blind.api.ok("GET", "/trigger")["eye"] == "rehearsal"
        expect(page.locator(".pad-says")).to_contain_text("Watching")
        # What it sees is another camera's picture: it is not laid over this one's.
        expect(page.locator("canvas.sees")).to_be_hidden()

        page.reload()
        page.get_by_role("link", name="Rig").click()
        expect(page.get_by_label("Eye of the step-back trigger")).to_have_value("rehearsal")
        page.get_by_label("Eye of the step-back trigger").select_option("")
        expect(page.locator(".notice")).to_contain_text("self-timer")
        assert blind.api.ok("GET", "/trigger")["eye"] == "rehearsal", "what watched goes on"
