"""What is drawn to be painted out is kept with the shot, by exposure."""

from typing import Any

from tests.api.conftest import House
from tests.api.test_exports import finished

STROKE = {"points": [[0.5, 0.6], [0.5, 1.0]], "width": 0.02}


def test_what_was_drawn_is_kept_and_asked_for_by_an_export(house: House) -> None:
    shot = house.shot()["id"]
    first, second, _ = house.press(shot, count=3)
    empty = {"masks": [], "follows": True, "plate": None}
    assert house.ok("GET", f"/shots/{shot}/clean-up") == empty
    drawn: dict[str, Any] = {
        "masks": [{"exposure": second["id"], "strokes": [STROKE]}],
        "follows": False,
        "plate": first["id"],
    }
    house.ok("PUT", f"/shots/{shot}/clean-up", json=drawn)
    assert house.ok("GET", f"/shots/{shot}/clean-up") == drawn
    wish = {"masks": [{"exposure": 2, "strokes": [STROKE]}], "follows": False, "plate": 1}
    body = {"format": "png", "clean_up": wish, "time": {"leave_out": [1]}}
    job = house.ok("POST", f"/shots/{shot}/exports", json=body)
    done = finished(house, job["id"])
    assert done["state"] == "done", done
    assert done["report"]["exposures"] == 2
    house.ok("DELETE", f"/shots/{shot}/clean-up")
    assert house.ok("GET", f"/shots/{shot}/clean-up") == empty


def test_a_drawing_that_cannot_be(house: House) -> None:
    shot = house.shot()["id"]
    (one,) = house.press(shot)
    address = f"/shots/{shot}/clean-up"
    for strokes in ([], [{"points": [], "width": 0.1}], [{"points": [[9, 9]], "width": 0.1}]):
        mask = {"exposure": one["id"], "strokes": strokes}
        house.problem("PUT", address, 422, "invalid", json={"masks": [mask]})
    strange = {"masks": [{"exposure": "none", "strokes": [STROKE]}]}
    house.problem("PUT", address, 404, "not_found", json=strange)
    house.problem("GET", "/shots/none/clean-up", 404, "not_found")
    beyond = {"format": "png", "clean_up": {"masks": [{"exposure": 7, "strokes": [STROKE]}]}}
    job = house.ok("POST", f"/shots/{shot}/exports", json=beyond)
    assert "no exposure 7" in finished(house, job["id"])["says"]
