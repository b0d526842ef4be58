"""Promise 9: bad input gets a clear Problem and changes nothing."""

import pytest

from standclear.cameras.base import BrokenPicture
from tests.api.conftest import House


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"name": ""},
        {"name": "   "},
        {"name": 5},
        {"name": "x" * 201},
        {"name": "a\x00b"},
        {"name": "x", "frame_rate": "0"},
        {"name": "x", "frame_rate": "-12"},
        {"name": "x", "frame_rate": "1e9"},
        {"name": "x", "frame_rate": "12/0"},
        {"name": "x", "frame_rate": "nan"},
        {"name": "x", "frame_rate": 12},
        {"name": "x", "surprise": True},
        [],
        "text",
    ],
)
def test_shots_that_cannot_be(house: House, body: object) -> None:
    house.problem("POST", "/shots", 422, "invalid", json=body)
    assert house.ok("GET", "/shots")["items"] == []


@pytest.mark.parametrize(
    "name", ["../../etc/passwd", "/absolute", "con", "🐾 cork", "..", "a/b\\c"]
)
def test_path_tricks_in_names_stay_names(house: House, name: str) -> None:
    shot = house.shot(name=name)
    assert shot["name"] == name
    house.press(shot["id"])
    root = house.library.folder.resolve()
    path = house.library.original_path(
        shot["id"], house.ok("GET", f"/shots/{shot['id']}/exposures")["items"][0]["id"]
    )
    assert path.resolve().is_relative_to(root / "shots")


@pytest.mark.parametrize(
    "body",
    [
        {"count": 0},
        {"count": 10**9},
        {"count": -1},
        {"count": "3"},
        {"count": 1.5},
        {"count": True},
        {"hold": 0},
        {"hold": 10**9},
        {"insert_after": 7},
        {"surprise": 1},
        [],
    ],
)
def test_presses_that_cannot_be(house: House, body: object) -> None:
    shot = house.shot()["id"]
    house.problem("POST", f"/shots/{shot}/exposures", 422, "invalid", json=body)
    assert house.camera.sent == []


def test_a_press_without_a_body_is_a_press(house: House) -> None:
    shot = house.shot()["id"]
    assert house.ok("POST", f"/shots/{shot}/exposures")["items"][0]["number"] == 1


@pytest.mark.parametrize(
    ("method", "path"),
    [
        ("GET", "/shots/none"),
        ("PATCH", "/shots/none"),
        ("DELETE", "/shots/none"),
        ("POST", "/shots/none/exposures"),
        ("GET", "/shots/none/exposures"),
        ("GET", "/shots/none/playback"),
        ("POST", "/shots/none/undo"),
        ("GET", "/shots/none/exposures/none"),
        ("GET", "/shots/none/exposures/none/original"),
        ("GET", "/shots/none/exposures/none/preview"),
        ("GET", "/shots/..%2f..%2fetc/exposures"),
        ("GET", "/nothing/here"),
    ],
)
def test_unknown_ids_are_not_found(house: House, method: str, path: str) -> None:
    body = {"name": "x"} if method == "PATCH" else {}
    house.problem(method, path, 404, "not_found", json=body if method != "GET" else None)
    assert house.camera.sent == []


def test_an_unknown_neighbour_is_refused_before_anything_is_exposed(house: House) -> None:
    shot = house.shot()["id"]
    for body in ({"insert_after": "none"}, {"replaces": "none"}):
        house.problem("POST", f"/shots/{shot}/exposures", 404, "not_found", json=body)
    assert house.camera.sent == []


def test_broken_json_is_said(house: House) -> None:
    for data in (b"{", b"\xff\xfe", b'{"name": NaN}'):
        response = house.client.post("/api/v1/shots", data=data, content_type="application/json")
        assert response.status_code in (400, 422)
        assert response.mimetype == "application/problem+json"


def test_another_media_type_is_said(house: House) -> None:
    response = house.client.post("/api/v1/shots", data="name=x", content_type="text/plain")
    assert response.status_code in (400, 415)
    assert response.mimetype == "application/problem+json"


def test_a_wrong_method_is_said_with_what_is_allowed(house: House) -> None:
    response = house.client.put("/api/v1/shots")
    assert response.status_code == 405
    assert "POST" in response.headers["Allow"]
    assert response.get_json()["code"] == "method_not_allowed"


def test_a_body_over_the_limit_is_refused(house: House) -> None:
    house.problem("POST", "/shots", 413, "too_large", json={"name": "x", "notes": "y" * 2_000_000})


def test_a_broken_picture_is_not_kept(house: House) -> None:
    shot = house.shot()["id"]
    house.camera.fail_next = BrokenPicture("The JPEG ends too early.", picture_taken=True)
    body = house.problem("POST", f"/shots/{shot}/exposures", 503, "broken_picture", json={})
    assert body["picture_taken"] is True
    assert house.ok("GET", f"/shots/{shot}")["exposure_count"] == 0


@pytest.mark.parametrize(
    "body",
    [
        {"mode": "sometimes"},
        {"mode": "interval"},
        {"mode": "interval", "shot": "none", "seconds": 2},
        {"mode": "manual", "seconds": 0},
        {"mode": "manual", "seconds": 1e12},
        {},
    ],
)
def test_triggers_that_cannot_be(house: House, body: dict[str, object]) -> None:
    response = house.client.put("/api/v1/trigger", json=body)
    assert response.status_code in (404, 422)
    assert response.mimetype == "application/problem+json"
    assert house.ok("GET", "/trigger")["phase"] == "idle"


def test_settings_that_are_not_offered_are_named(house: House) -> None:
    body = house.problem("PATCH", "/camera/settings", 422, "not_offered", json={"zoom": "2"})
    assert "zoom" in body["detail"]
    house.problem("PATCH", "/camera/settings", 422, "invalid", json={"iso": 100})
    settings = house.ok("PATCH", "/camera/settings", json={"iso": "100"})
    assert settings["iso"]["automatic"] is False


@pytest.mark.parametrize("key", ["", "x" * 201, "käse"])
def test_keys_that_cannot_be(house: House, key: str) -> None:
    shot = house.shot()["id"]
    headers = {"Idempotency-Key": key.encode().decode("latin-1")}
    house.problem(
        "POST", f"/shots/{shot}/exposures", 400, "bad_idempotency_key", json={}, headers=headers
    )
