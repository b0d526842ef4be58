"""What all tests share: one Chromium a worker, started when it is first needed."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings
from playwright.sync_api import Browser, sync_playwright

CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def pytest_configure() -> None:
    """Draw the rehearsal set once for all tests and for the services that they start."""
    kept = Path(__file__).parents[1] / ".cache" / "drawn"
    os.environ.setdefault("STANDCLEAR_DRAWN", str(kept))
    # On a busy machine an example's time says nothing of the code.
    settings.register_profile("busy", deadline=None)
    settings.load_profile("busy")


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Debian's Chromium, headless."""
    if not Path(CHROMIUM).exists():
        pytest.skip(f"no Chromium at {CHROMIUM}; set CHROMIUM to its path")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()
