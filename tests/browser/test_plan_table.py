"""True scale on the page: corners tapped, a move drawn and shot with its targets, held to truth."""

from collections.abc import Iterator, Sequence

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect

from standclear.cameras.rehearsal.acting import pose_at
from standclear.cameras.rehearsal.geometry import table_to_picture
from standclear.cameras.rehearsal.scene import card_corners_mm
from tests.browser.conftest import Set, press_pad
from tests.browser.test_plan import part
from tests.service import ServiceProcess
from tests.waiting import until

WIDE, HIGH = 1280, 720
DESK = {"width": WIDE, "height": 800}
SEED = 3


@pytest.fixture(scope="module")
def table(chromium: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Set]:
    """The rehearsal set with a bank card on its table."""
    with ServiceProcess(
        tmp_path_factory.mktemp("table") / "library", f"rehearsal:card=1,seed={SEED}"
    ) as service:
        made = Set(service, chromium)
        yield made
        made.api.close()


def on_picture(points_mm: Sequence[Sequence[float]]) -> np.ndarray:
    """Where points of the table are in a picture 1280 px wide: the rehearsal set's own truth."""
    seen = np.c_[np.asarray(points_mm), np.ones(len(points_mm))] @ table_to_picture(WIDE, HIGH).T
    return np.asarray(seen[:, :2] / seen[:, 2:])


def tap(page: Page, points: np.ndarray) -> None:
    """Tap points of the picture, as they lie on the screen."""
    box = page.locator(".board-frame").bounding_box()
    assert box is not None
    for x, y in points:
        page.mouse.click(
            box["x"] + (x + 0.5) * box["width"] / WIDE, box["y"] + (y + 0.5) * box["height"] / HIGH
        )


def test_a_move_is_drawn_to_scale_and_shot_with_its_targets(table: Set) -> None:
    shot = table.shot()
    table.api.ok("PUT", f"/shots/{shot}/plan", json={"text": "creep 1 s"})
    way_mm = [(-30.0, 20.0), (30.0, 10.0)]
    with table.page(shot, viewport=DESK) as page:
        part(page, "Table")
        expect(page.locator(".table-says")).to_contain_text("tap its corners")
        crossed = card_corners_mm()[[0, 2, 1, 3]]
        tap(page, on_picture(crossed))
        expect(page.locator(".table-says")).to_contain_text("The edges cross")
        expect(page.get_by_role("button", name="Keep")).to_be_disabled()
        page.get_by_role("button", name="Tap anew").click()
        tap(page, on_picture(card_corners_mm()))
        expect(page.locator(".table-says")).to_contain_text("known to within")
        page.get_by_role("button", name="Keep").click()
        expect(page.locator(".notice")).to_contain_text("The table is measured")

        part(page, "Actions")
        page.locator(".action-open").click()
        page.get_by_role("button", name="Draw the move").click()
        tap(page, on_picture(way_mm))
        expect(page.locator(".table-says")).to_contain_text("mm in 12 exposures")
        page.get_by_label("Easing").select_option("ease in")
        page.get_by_role("button", name="Keep").click()
        expect(page.locator(".action-facts")).to_contain_text("ease in")

        plan = table.api.ok("GET", f"/shots/{shot}/plan")
        targets = plan["actions"][0]["targets"]
        true_mm = float(np.hypot(*np.subtract(*way_mm)))
        assert sum(one["step_mm"] for one in targets) == pytest.approx(true_mm, abs=1.0)

        page.evaluate("location.hash = 'shoot'")
        for number in (1, 2):
            place = " ".join(f"{one:.1f}" for one in targets[number - 1]["picture_px"])
            expect(page.locator(".target")).to_have_attribute("data-at", place)
            step = f"{targets[number - 1]['step_mm']:.1f} mm"
            expect(page.locator(".target-says")).to_contain_text(step)
            press_pad(page, number)


def test_measured_spacing_agrees_with_what_the_cork_did(table: Set) -> None:
    before = sum(one["exposure_count"] for one in table.api.ok("GET", "/shots")["items"])
    shot = table.shot()
    calibration = {
        "corners": on_picture(card_corners_mm()).tolist(),
        "picture_width": WIDE,
        "picture_height": HIGH,
        "rectangle": "ID-1",
    }
    body = {"text": "creep 2 s, slow", "calibration": calibration}
    table.api.ok("PUT", f"/shots/{shot}/plan", json=body)
    for _ in range(6):  # before a page is open: Chromium takes the time that the watches need
        items = table.api.ok("POST", f"/shots/{shot}/exposures", json={"count": 4})["items"]
    last = f"/shots/{shot}/exposures/{items[-1]['id']}"
    until(lambda: table.api.ok("GET", last)["verdict"], 60, "for the last verdict")
    with table.page(shot, viewport=DESK) as page:
        part(page, "Actual")
        expect(page.locator(".actual-pace")).to_contain_text("pictures an hour")
        frames = table.api.ok("GET", f"/shots/{shot}/report")["frames"]
        errors = [
            abs(row["spacing"]["moved_mm"] - true_step(before + row["number"]))
            for row in frames[14:]  # in the open; before, the bottle hides a part of the cork
            if row["spacing"]["moved_mm"] is not None
        ]
        assert len(errors) >= 8
        assert np.mean(errors) < 1.0
        measured = sum(row["spacing"]["moved_mm"] is not None for row in frames)
        expect(page.locator(".spacing-chart .moved")).to_have_count(measured)


def true_step(number: int) -> float:
    """How far the cork's foot went to the pose of the camera's exposure so numbered, in mm."""
    before, after = pose_at(number - 2, SEED), pose_at(number - 1, SEED)
    return float(np.hypot(after.x_mm - before.x_mm, after.y_mm - before.y_mm))
