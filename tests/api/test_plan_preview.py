"""What a plan would be is answered without keeping it."""

import numpy as np
import pytest

from tests.api.conftest import House

PUSH = {"length_mm": 50, "easing": "ease in", "points": [[100, 300], [500, 300]]}


def test_a_preview_is_what_would_be_kept_and_keeps_nothing(house: House) -> None:
    shot = house.shot()["id"]
    body = {"text": "wait 1 s\ncreep 120 mm over 2 s, ease in"}
    would = house.ok("POST", f"/shots/{shot}/plan/preview", json=body)
    assert house.ok("GET", f"/shots/{shot}/plan")["actions"] == []
    kept = house.ok("PUT", f"/shots/{shot}/plan", json=body)
    assert would["actions"] == kept["actions"]
    assert would["frame_count"] == 36


def test_a_drawn_move_is_given_as_points_of_equal_way(house: House) -> None:
    shot = house.shot()["id"]
    action = {"label": "push", "duration": {"value": 1, "unit": "s"}, "move": PUSH}
    found = house.ok("POST", f"/shots/{shot}/plan/preview", json={"actions": [action]})
    (path,) = found["paths"].values()
    assert path[0] == [100, 300]
    assert path[-1] == [500, 300]
    assert np.diff([x for x, _ in path]) == pytest.approx(400 / (len(path) - 1), abs=0.02)


def test_a_text_that_cannot_be_read_is_pointed_at(house: House) -> None:
    shot = house.shot()["id"]
    body = house.problem(
        "POST", f"/shots/{shot}/plan/preview", 422, "plan_refused", json={"text": "wait 1 parsec"}
    )
    assert (body["line"], body["column"]) == (1, 8)
