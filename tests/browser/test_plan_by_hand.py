"""The plan by hand and as a file: a tick dragged along its move, CSV out and in."""

import csv
import io

import numpy as np
from playwright.sync_api import Page, expect

from tests.browser.conftest import Set
from tests.browser.test_plan import part
from tests.waiting import until

WIDE, HIGH = 1280, 720
DESK = {"width": 1280, "height": 800}
START, END = (340.0, 430.0), (940.0, 430.0)
SPACE = (END[0] - START[0]) / 12  # between twelve even ticks


class Board:
    """The picture on which a move is drawn, in its own pixels."""

    def __init__(self, page: Page) -> None:
        self.page = page
        box = page.locator(".board-frame").bounding_box()
        assert box is not None
        self.box = box

    def tap(self, x: float, y: float) -> None:
        self.page.mouse.click(*self._screen(x, y))

    def drag(self, start: tuple[float, float], *way: tuple[float, float]) -> None:
        """Press at ``start``, go to each point of ``way``, let go."""
        self.page.mouse.move(*self._screen(*start))
        self.page.mouse.down()
        for x, y in way:
            self.page.mouse.move(*self._screen(x, y), steps=4)
        self.page.mouse.up()

    def _screen(self, x: float, y: float) -> tuple[float, float]:
        return (
            self.box["x"] + x * self.box["width"] / WIDE,
            self.box["y"] + y * self.box["height"] / HIGH,
        )


def drawing(page: Page) -> Board:
    """The drawing of the only action's move."""
    part(page, "Actions")
    page.locator(".action-open").click()
    page.get_by_role("button", name="Draw the move").click()
    expect(page.locator(".board-frame")).to_be_visible()
    return Board(page)


def places(house: Set, shot: str) -> np.ndarray:
    """Where the exposures of the only action stand, in picture pixels."""
    [action] = house.api.ok("GET", f"/shots/{shot}/plan")["actions"]
    return np.array([one["picture_px"] for one in action["targets"]])


def test_a_tick_dragged_by_hand_stays_where_it_was_let_go(house: Set) -> None:
    shot = house.shot()
    house.api.ok("PUT", f"/shots/{shot}/plan", json={"text": "creep 1 s"})
    with house.page(shot, viewport=DESK) as page:
        board = drawing(page)
        board.tap(*START)
        board.tap(*END)
        expect(page.locator(".table-says")).to_contain_text("12 exposures")
        page.get_by_role("button", name="Keep").click()
        expect(page.locator(".action-open")).to_be_visible()
        even = places(house, shot)
        assert np.allclose(np.diff(even[:, 0]), SPACE, atol=1.5)

        board = drawing(page)
        page.get_by_label("Easing").select_option("by hand")
        expect(page.get_by_text("1: 8 %")).to_be_visible()  # the ticks are there to be gripped
        gripped = tuple(float(one) for one in even[5])
        board.drag((gripped[0], gripped[1]), (gripped[0] - 20, 470), (gripped[0] - 32, 430))
        expect(page.get_by_text("6: 45 %")).to_be_visible()
        # Beyond its neighbour a tick does not go: an object does not turn back unasked.
        board.drag((even[8][0], even[8][1]), (even[11][0], even[11][1]))
        expect(page.get_by_text("9: 83 %")).to_be_visible()
        page.get_by_role("button", name="Keep").click()
        expect(page.locator(".action-facts")).to_contain_text("by hand")
    wanted = even.copy()
    wanted[5, 0] -= 32
    wanted[8] = even[9]
    assert np.allclose(places(house, shot), wanted, atol=2.0)  # a mouse's pixel


def test_a_tick_is_moved_without_dragging_too(house: Set) -> None:
    shot = house.shot()
    points = [list(START), list(END)]
    move = {"easing": "linear", "points": points, "curve": "straight", "space": "picture"}
    action = {"label": "creep", "duration": {"value": 12, "unit": "frames"}, "move": move}
    house.api.ok("PUT", f"/shots/{shot}/plan", json={"actions": [action]})
    even = places(house, shot)
    with house.page(shot, viewport=DESK) as page:
        drawing(page)
        page.get_by_label("Easing").select_option("by hand")
        expect(page.get_by_text("1: 8 %")).to_be_visible()
        page.get_by_role("button", name="More: Tick").click()
        expect(page.get_by_text("2: 17 %")).to_be_visible()
        page.get_by_role("button", name="Less: Its place").click()
        expect(page.get_by_text("2: 16 %")).to_be_visible()
        page.get_by_role("button", name="Keep").click()
        expect(page.locator(".action-facts")).to_contain_text("by hand")
    moved = places(house, shot)[:, 0] - even[:, 0]
    assert np.allclose(moved, [0, -6, *[0] * 10], atol=0.2)


def test_a_plan_goes_out_as_csv_and_comes_in_again(house: Set) -> None:
    shot = house.shot()
    text = "peek 4 frames\ncreep 60 mm over 1 s, ease in, on twos  # slowly, “shy”; at first"
    house.api.ok("PUT", f"/shots/{shot}/plan", json={"text": text})
    with house.page(shot, viewport=DESK) as page:
        part(page, "Paper")
        with page.expect_download() as downloading:
            page.get_by_role("link", name="Download CSV").click()
        data = downloading.value.path().read_bytes()
        rows = list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))
        assert len(rows) == 2

        take_in(page, "broken.csv", data[: data.index(b"creep")] + b'"creep,nan,s\r\n')
        expect(page.locator(".notice")).to_contain_text("line")
        assert house.api.ok("GET", f"/shots/{shot}/plan")["text"].startswith("peek 4 frames")

        take_in(page, "longer.csv", data.replace(b"peek", b"hide", 1))
        expect(page.locator(".notice")).to_contain_text("The plan is now that of longer.csv.")
        kept = house.api.ok("GET", f"/shots/{shot}/plan")
        assert [one["label"] for one in kept["actions"]] == ["hide", "creep"]
        assert kept["actions"][1]["notes"] == "slowly, “shy”; at first"
        assert [one["frames"] for one in kept["actions"]] == [4, 12]
        expect(page.locator(".plan-sums")).to_contain_text("16 frames")


def take_in(page: Page, name: str, data: bytes) -> None:
    file = {"name": name, "mimeType": "text/csv", "buffer": data}
    page.get_by_label("A plan as CSV").set_input_files(file)  # type: ignore[arg-type]
    until(lambda: page.get_by_label("A plan as CSV").input_value() == "", 20)
