"""True scale on the page: corners tapped, a move drawn and shot with its targets, held to truth."""

import os
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
LONG = os.environ.get("STANDCLEAR_LONG") == "1"
EXPOSURES = 24
PRESSED = 24 if LONG else 4  # on the page; what is left by the API
LEAST_MEASURED = 20

#: Where the cork's foot stands in each exposure, on the table in mm: the set's own truth.
FOOT_MM = np.array([(one.x_mm, one.y_mm) for one in (pose_at(n, SEED) for n in range(25))])
WAY = [0, 11, 15, 19, 24]  # exposures through whose places the move is drawn


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


def test_a_plan_shot_with_its_targets_is_measured_as_the_cork_went(table: Set) -> None:
    """Written, measured, drawn along the cork's own way, shot; then spacing against the truth."""
    shot = table.shot()
    with table.page(shot, viewport=DESK) as page:
        part(page, "Typed")
        page.locator(".typed-text").fill("creep 2 s")
        page.get_by_role("button", name="Save").click()
        expect(page.locator(".plan-sums")).to_contain_text("24 exposures")
        measure_the_table(page)
        draw_the_way(page, FOOT_MM[WAY])
        targets = table.api.ok("GET", f"/shots/{shot}/plan")["actions"][0]["targets"]
        straight_mm = np.hypot(*np.diff(FOOT_MM[WAY], axis=0).T).sum()
        planned_mm = sum(one["step_mm"] for one in targets)
        assert straight_mm - 1.0 < planned_mm < 1.05 * straight_mm  # the curve is a little longer
        page.evaluate("location.hash = 'shoot'")
        for number in range(1, PRESSED + 1):
            one = targets[number - 1]
            place = " ".join(f"{at:.1f}" for at in one["picture_px"])
            expect(page.locator(".target")).to_have_attribute("data-at", place)
            expect(page.locator(".target-says")).to_contain_text(f"{one['step_mm']:.1f} mm")
            press_pad(page, number)
    for _ in range(PRESSED, EXPOSURES, 4):  # no page is open: Chromium takes the watches' time
        items = table.api.ok("POST", f"/shots/{shot}/exposures", json={"count": 4})["items"]
    last = f"/shots/{shot}/exposures/{items[-1]['id']}"
    until(lambda: table.api.ok("GET", last)["verdict"], 120, "for the last verdict")
    holds_to_the_truth(table, shot)


def measure_the_table(page: Page) -> None:
    """Tap the card, first in an order that cannot be."""
    part(page, "Table")
    expect(page.locator(".table-says")).to_contain_text("tap its corners")
    tap(page, on_picture(card_corners_mm()[[0, 2, 1, 3]]))
    expect(page.locator(".table-says")).to_contain_text("The edges cross")
    expect(page.get_by_role("button", name="Keep")).to_be_disabled()
    page.get_by_role("button", name="Tap anew").click()
    tap(page, on_picture(card_corners_mm()))
    expect(page.locator(".table-says")).to_contain_text("known to within")
    page.get_by_role("button", name="Keep").click()
    expect(page.locator(".notice")).to_contain_text("The table is measured")


def draw_the_way(page: Page, way_mm: np.ndarray) -> None:
    """A curve through these points of the table, eased in, for the only action."""
    part(page, "Actions")
    page.locator(".action-open").click()
    page.get_by_role("button", name="Draw the move").click()
    page.get_by_role("radio", name="curve").click()
    tap(page, on_picture(way_mm))
    expect(page.locator(".table-says")).to_contain_text("mm in 24 exposures")
    page.get_by_label("Easing").select_option("ease in")
    page.get_by_role("button", name="Keep").click()
    expect(page.locator(".action-facts")).to_contain_text("ease in")


def holds_to_the_truth(table: Set, shot: str) -> None:
    """Every measured step against the set's own, half hidden by the bottle or in the open; and the
    chart shows as many."""
    frames = table.api.ok("GET", f"/shots/{shot}/report")["frames"]
    assert len(frames) == EXPOSURES
    assert all(row["spacing"]["planned_mm"] is not None for row in frames)
    true_mm = np.hypot(*np.diff(FOOT_MM[:EXPOSURES], axis=0).T)
    found = [row["spacing"]["moved_mm"] for row in frames[1:]]
    errors = [abs(mm - true) for mm, true in zip(found, true_mm, strict=True) if mm is not None]
    print(
        f"spacing: {len(errors)} of {len(found)} steps measured, mean error "
        f"{np.mean(errors):.2f} mm, largest {np.max(errors):.2f} mm; in the open "
        f"{np.mean(errors[-10:]):.2f} mm"
    )
    assert len(errors) >= LEAST_MEASURED
    assert np.mean(errors) < 1.0
    with table.page(shot, viewport=DESK) as page:
        part(page, "Actual")
        expect(page.locator(".actual-pace")).to_contain_text("pictures an hour")
        expect(page.locator(".spacing-chart .planned")).to_have_count(EXPOSURES)
        measured = sum(mm is not None for mm in found)
        expect(page.locator(".spacing-chart .moved")).to_have_count(measured)
