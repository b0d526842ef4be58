"""One frame before and after: the service gives both pictures, framed alike."""

import cv2
import numpy as np

from tests.api.conftest import House


def picture(house: House, address: str) -> np.ndarray:
    answer = house.client.get(address)
    assert answer.mimetype == "image/jpeg"
    decoded = cv2.imdecode(np.frombuffer(answer.data, np.uint8), cv2.IMREAD_COLOR)
    assert decoded is not None
    return decoded


def test_both_sides_are_framed_alike_and_differ_only_by_what_was_asked(house: House) -> None:
    shot = house.shot()["id"]
    house.press(shot, count=3)
    options = {"framing": {"shape": "1:1"}}
    made = house.ok("POST", f"/shots/{shot}/looks", json={"exposure": 2, "options": options})
    before, after = picture(house, made["before"]), picture(house, made["after"])
    assert before.shape == after.shape == (180, 180, 3)
    assert np.array_equal(before, after), "nothing was to be corrected"


def test_a_look_that_cannot_be(house: House) -> None:
    shot = house.shot()["id"]
    house.press(shot)
    for body, status in (({"exposure": 0}, 422), ({"exposure": 9}, 422), ({}, 422)):
        answer = house.client.post(f"/api/v1/shots/{shot}/looks", json=body)
        assert answer.status_code == status, answer.text
        assert answer.mimetype == "application/problem+json"
    house.problem("GET", "/looks/none/before", 404, "not_found")
    house.problem("POST", "/shots/none/looks", 404, "not_found", json={"exposure": 1})
