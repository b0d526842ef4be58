"""A stranger's path: the README's own commands in an empty folder, then a film, all by the page.

It also takes the README's pictures. To put fresh ones in their place:
``STANDCLEAR_PICTURES=webclient/pictures sh deploy/test.sh tests/browser/test_strangers_path.py``
"""

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, expect

from tests.api.test_exports import probed
from tests.browser.album import Album
from tests.browser.conftest import PHONE, press_pad, watched
from tests.service import ServiceProcess
from tests.waiting import until

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text()
NOT_HANDED_OVER = shutil.ignore_patterns(".*", "__pycache__", "*.egg-info", "build", "dist")
MOST_BYTES = 200_000
ENVIRONMENT_MADE_S = 600
FRAMES = 8


class StartedByHand(ServiceProcess):
    """What ``sh deploy/start.sh`` starts in a folder that holds nothing but the project."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        # Its own home; the wheels that were fetched for the tests need not be fetched again.
        ask = [sys.executable, "-m", "pip", "cache", "dir"]
        cache = subprocess.run(ask, check=True, capture_output=True, text=True).stdout.strip()
        super().__init__(
            folder / "home" / "Standclear",
            env={
                "HOME": str(folder / "home"),
                "PIP_CACHE_DIR": cache,
                "STANDCLEAR_HOST": "127.0.0.1",
                "STANDCLEAR_PORT": "0",
                "STANDCLEAR_ENVIRONMENT": "",
                "PYTHONUNBUFFERED": "1",
            },
            # What follows this becomes $1, $2, ..., which the README's command does not look at.
            prefix=["sh", "-c", f'cd "{folder / "standclear"}" && exec {first_command()}', "sh"],
        )

    def start(self) -> ServiceProcess:
        """Wait until requests are taken: the environment is made first."""
        self.url = self.find(r"listening on (http\S+)", ENVIRONMENT_MADE_S)
        return self


def first_command() -> str:
    """The first of the README's two commands, as it stands there."""
    found = re.search(r"## Two commands\n\n```sh\n(sh deploy/start\.sh)\s", README)
    assert found
    return found.group(1)


@pytest.fixture
def started(tmp_path: Path) -> Iterator[ServiceProcess]:
    """The service, as a stranger starts it."""
    (tmp_path / "home").mkdir()
    shutil.copytree(ROOT, tmp_path / "standclear", ignore=NOT_HANDED_OVER)
    with StartedByHand(tmp_path) as service:
        yield service
        assert service.stop() == 0, service.output()


@pytest.fixture
def album(tmp_path: Path) -> Album:
    """Where the README's pictures go: among the test's own files, unless a folder is named."""
    folder = Path(os.environ.get("STANDCLEAR_PICTURES", "") or tmp_path / "pictures")
    folder.mkdir(exist_ok=True)
    return Album(folder)


@pytest.mark.timeout(900)  # the environment is made anew
def test_from_two_commands_to_a_film(
    started: ServiceProcess, chromium: Browser, album: Album, tmp_path: Path
) -> None:
    context = chromium.new_context(viewport=PHONE, has_touch=True, device_scale_factor=1.5)
    context.set_default_timeout(60_000)
    with watched(context, started.url) as page:
        pair(page, started)
        begin(page)
        plan(page, album)
        shoot(page, album)
        review(page, album)
        film = finish(page, album, tmp_path)
    picture = probed(film)
    assert (picture["codec_name"], picture["nb_read_frames"]) == ("h264", str(FRAMES))
    assert float(picture["duration"]) == pytest.approx(FRAMES / 12, abs=1e-6)
    check_pictures(album)


def pair(page: Page, started: ServiceProcess) -> None:
    page.goto(started.url)
    page.get_by_label("Code on the computer beside the set").fill(started.code())
    expect(page.get_by_role("heading", name="Shots")).to_be_visible()


def begin(page: Page) -> None:
    page.get_by_label("New shot").fill("the cork wakes")
    page.get_by_role("button", name="Begin").click()
    expect(page.locator(".bar-shot")).to_contain_text("12 fps")
    expect(page.locator(".stage-says .state")).to_have_text("live")


def plan(page: Page, album: Album) -> None:
    page.get_by_role("link", name="Plan").click()
    page.get_by_role("radio", name="Typed", exact=True).click()
    page.locator(".typed-text").fill(performance())
    expect(page.locator(".typed-head")).to_contain_text("7.75 s · 93 frames · 69 exposures")
    page.get_by_role("button", name="Save").click()
    page.get_by_role("radio", name="Actions", exact=True).click()
    expect(page.locator(".action-name").first).to_contain_text("wait")
    album.keep(page, "plan")


def performance() -> str:
    """The README's example, word for word."""
    found = re.search(r"```\n(wait 1 s, hold.*?)```", README, re.DOTALL)
    assert found
    return found.group(1)


def shoot(page: Page, album: Album) -> None:
    page.get_by_role("link", name="Shoot").click()
    expect(page.locator(".pad-does")).to_have_text("wait, frame 1 of 12")
    for number in range(1, FRAMES + 1):
        album.flick(page)
        press_pad(page, number)
        album.flick(page)
    expect(page.get_by_role("img", name=f"Timing chart: {FRAMES} exposures")).to_be_visible()
    album.keep(page, "shoot")


def review(page: Page, album: Album) -> None:
    page.get_by_role("link", name="Review").click()
    expect(page.locator(".where-what")).to_have_text(f"exposure {FRAMES}")
    for _ in range(2):
        page.locator(".chart").last.press("Home")
        for number in range(1, FRAMES + 1):
            expect(page.locator(".where-what")).to_have_text(f"exposure {number}")
            album.flick(page)
            if number < FRAMES:
                page.get_by_role("button", name="One frame on").click()
    page.get_by_role("button", name="Play", exact=True).click()
    until(lambda: page.locator(".where-what").text_content() == "exposure 5")
    page.get_by_role("button", name="Pause").click()


def finish(page: Page, album: Album, folder: Path) -> Path:
    page.get_by_role("link", name="Finish").click()
    page.get_by_label("Even light").check()
    page.get_by_role("button", name="Make the film").click()
    made = page.locator(".export")
    expect(made.get_by_role("link", name="Download")).to_be_visible(timeout=90_000)
    made.scroll_into_view_if_needed()
    album.keep(page, "finish")
    with page.expect_download() as download:
        made.get_by_role("link", name="Download").click()
    film = folder / "film.mp4"
    download.value.save_as(film)
    return film


def check_pictures(album: Album) -> None:
    """Each is in the README, shows something, and is small."""
    made = album.bind()
    assert {file.name for file in made} == {"plan.jpg", "shoot.jpg", "finish.jpg", "loop.webp"}
    for file in made:
        assert f"(webclient/pictures/{file.name})" in README
        assert 5_000 < file.stat().st_size < MOST_BYTES, file
        with Image.open(file) as picture:
            assert len(picture.convert("L").resize((64, 64)).getcolors(4096) or []) > 20, file
