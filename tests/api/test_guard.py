"""Promise 7: only the paired may enter, under our own name, from our own page."""

import re

import pytest

from standclear.web.gate import TRIES
from tests.api.conftest import House

OPEN = {"/api/v1/health", "/api/v1/pairing", "/"}


def routes(house: House) -> list[tuple[str, str]]:
    found = []
    for rule in house.service.app.url_map.iter_rules():
        if rule.websocket:
            continue  # tried over a real socket in test_live.py
        path = rule.rule
        for name in rule.arguments:
            path = re.sub(rf"<[^<>]*\b{name}>", "x", path)
        found += [
            (method, path)
            for method in sorted(rule.methods or ())
            if method in ("GET", "POST", "PUT", "PATCH", "DELETE")
        ]
    return found


def test_every_route_but_the_open_ones_wants_pairing(house: House) -> None:
    stranger = house.service.app.test_client()
    closed = 0
    for method, path in routes(house):
        if path in OPEN or not path.startswith("/api/"):
            continue
        response = stranger.open(path, method=method, json={} if method != "GET" else None)
        assert response.status_code == 401, (method, path, response.status_code)
        assert response.get_json()["code"] == "unpaired"
        closed += 1
    assert closed > 20


@pytest.mark.parametrize(
    "header", ["Bearer nonsense", "Bearer ", "Basic YTpi", "Bearer " + "x" * 5000]
)
def test_a_forged_token_does_not_enter(house: House, header: str) -> None:
    stranger = house.service.app.test_client()
    stranger.set_cookie("standclear", "forged")
    assert stranger.get("/api/v1/shots", headers={"Authorization": header}).status_code == 401


@pytest.mark.parametrize(
    "host",
    ["evil.example", "localhost.evil.example", "192.0.2.7", "", "a b", "localhost/x", "[::1"],
)
def test_another_host_name_is_misdirected(house: House, host: str) -> None:
    for path in ("/api/v1/shots", "/api/v1/health", "/"):
        response = house.client.get(path, headers={"Host": host})
        assert response.status_code == 421, (path, response.status_code)
        assert response.get_json()["code"] == "misdirected"


@pytest.mark.parametrize(
    "origin",
    [
        "http://evil.example",
        "null",
        "https://localhost",
        "http://localhost:9",
        "http://localhost@evil.example",
    ],
)
def test_a_foreign_origin_is_forbidden(house: House, origin: str) -> None:
    for path in ("/api/v1/shots", "/api/v1/pairing", "/"):
        response = house.client.get(path, headers={"Origin": origin})
        assert response.status_code == 403, (path, response.status_code)


def test_our_own_origin_enters(house: House) -> None:
    answer = house.client.get("/api/v1/shots", headers={"Origin": "http://localhost"})
    assert answer.status_code == 200


def test_the_code_is_good_for_one_pairing(house: House) -> None:
    code = house.gate.new_code()
    phone = house.service.app.test_client()
    answer = phone.post("/api/v1/pairing", json={"code": f"{code[:3]} {code[3:]}", "name": "phone"})
    assert answer.status_code == 201
    cookie = answer.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert phone.get("/api/v1/shots").status_code == 200
    assert phone.get("/api/v1/pairing").get_json()["name"] == "phone"
    other = house.service.app.test_client()
    assert other.post("/api/v1/pairing", json={"code": code}).status_code == 401
    assert phone.delete("/api/v1/pairing").status_code == 204
    assert phone.get("/api/v1/shots").status_code == 401


def test_five_wrong_codes_lock_pairing_even_for_the_right_one(house: House) -> None:
    code = house.gate.new_code()
    wrong = "000000" if code != "000000" else "111111"
    phone = house.service.app.test_client()
    for _ in range(TRIES):
        answer = phone.post("/api/v1/pairing", json={"code": wrong})
        assert answer.status_code == 401
        assert answer.get_json()["code"] == "wrong_code"
    answer = phone.post("/api/v1/pairing", json={"code": code})
    assert answer.status_code == 429
    assert answer.get_json()["code"] == "pairing_locked"
    assert 1 <= int(answer.headers["Retry-After"]) <= 60


def test_a_left_token_is_stale_at_once(house: House) -> None:
    token = house.gate.new_token("script")
    stranger = house.service.app.test_client()
    headers = {"Authorization": f"Bearer {token}"}
    assert stranger.get("/api/v1/shots", headers=headers).status_code == 200
    house.gate.leave(token)
    assert stranger.get("/api/v1/shots", headers=headers).status_code == 401


def test_every_answer_carries_the_strict_headers(house: House) -> None:
    for path in ("/", "/api/v1/health", "/api/v1/shots/none"):
        headers = house.client.get(path, buffered=True).headers
        policy = headers["Content-Security-Policy"]
        assert "unsafe" not in policy
        assert "default-src 'none'" in policy
        assert headers["X-Content-Type-Options"] == "nosniff"


def test_the_description_of_the_api_is_valid_openapi(house: House) -> None:
    from openapi_spec_validator import validate

    spec = house.ok("GET", "/openapi.json")
    assert spec["openapi"].startswith("3.1")
    validate(spec)
    assert "/api/v1/shots/{shot_id}/exposures" in spec["paths"]
