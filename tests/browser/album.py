"""Collects what a page looks like on its way: pictures for the README, and one that moves."""

import io
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page

MOVING_WIDTH = 260
MOVING_STEP_MS = 250


class Album:
    """Pictures under ``folder``; nothing is written before :meth:`bind`, but whole pictures."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._kept: list[Path] = []
        self._moving: list[Image.Image] = []

    def keep(self, page: Page, name: str) -> None:
        """The page as it is now."""
        file = self._folder / f"{name}.jpg"
        seen(page).save(file, quality=80, optimize=True, progressive=True)
        self._kept.append(file)

    def flick(self, page: Page) -> None:
        """One more picture of the moving one."""
        picture = seen(page)
        height = round(picture.height * MOVING_WIDTH / picture.width)
        self._moving.append(picture.resize((MOVING_WIDTH, height), Image.Resampling.LANCZOS))

    def bind(self) -> list[Path]:
        """All that was collected."""
        first, *more = self._moving
        file = self._folder / "loop.webp"
        first.save(
            file,
            save_all=True,
            append_images=more,
            duration=MOVING_STEP_MS,
            loop=0,
            quality=45,
            method=4,
        )
        return [*self._kept, file]


def seen(page: Page) -> Image.Image:
    """What the page shows."""
    return Image.open(io.BytesIO(page.screenshot())).convert("RGB")
