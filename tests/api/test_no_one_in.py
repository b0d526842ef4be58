"""Promise 7 over every route that there is: the application's own table of addresses is walked, so
that a new route is tried with the rest. What is open to strangers stands here by name.
"""

import re
import socket
import threading
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.routing import Rule
from werkzeug.serving import make_server

from standclear.shooting.describe import API
from standclear.web.gate import TRIES, Gate, PairingLocked, WrongCode
from tests.api.conftest import House

#: What a stranger may ask, with the reason. Everything else wants pairing.
OPEN = {
    "/": "the page itself, which holds nothing of the library",
    "/<path:name>": "the page's files",
    f"{API}/health": "for whoever watches over the service; says only that it is well",
    f"{API}/pairing": "the way in",
    "/shell.json": "which files the page is made of",
    "/handset": "the page of a phone that is a camera, which holds nothing of the library",
    "/trust": "the page that leads a phone to trust the service's certificate",
    "/trust.json": "what that page says: names and fingerprint of the certificate",
    "/trusted": "whether the phone trusts it by now",
    "/ca.crt": "the certificate itself, which is public by its nature",
}
METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")


def all_rules(house: House) -> list[Rule]:
    return list(house.service.app.url_map.iter_rules())


def address(rule: Rule, value: str = "x") -> str:
    """The rule's address with ``value`` for each of its parts."""
    return re.sub(r"<[^<>]+>", value, rule.rule)


def asked(house: House) -> list[tuple[str, str]]:
    """Every method of every plain route."""
    return [
        (method, address(rule))
        for rule in all_rules(house)
        if not rule.websocket
        for method in METHODS
        if method in (rule.methods or ())
    ]


def closed(house: House) -> list[tuple[str, str]]:
    """Those that want pairing."""
    free = {address(rule) for rule in all_rules(house) if rule.rule in OPEN}
    return [(method, path) for method, path in asked(house) if path not in free]


def left_token(house: House) -> str:
    token = house.gate.new_token("left")
    assert house.gate.name_of(token) == "left"
    house.gate.leave(token)
    return token


def strangers(house: House) -> dict[str, dict[str, str]]:
    """Headers of those who may not enter."""
    expired = Gate(house.library, house.stage.clock).new_token("old", days=-1)
    good = house.gate.new_token("good")
    return {
        "nobody": {},
        "forged bearer": {"Authorization": "Bearer " + "A" * 43},
        "forged cookie": {"Cookie": "standclear=" + "A" * 43},
        "left": {"Authorization": f"Bearer {left_token(house)}"},
        "left, by cookie": {"Cookie": f"standclear={left_token(house)}"},
        "expired": {"Authorization": f"Bearer {expired}"},
        "a good one cut short": {"Cookie": f"standclear={good[:-1]}"},
        "a good one made longer": {"Cookie": f"standclear={good}A"},
        "another scheme": {"Authorization": f"Basic {good}"},
        "an endless one": {"Cookie": "standclear=" + "A" * 4000},
    }


def told(client: FlaskClient, method: str, path: str, headers: dict[str, str]) -> Any:
    body = None if method == "GET" else {}
    return client.open(path, method=method, json=body, headers=headers)


def test_what_is_open_is_still_there(house: House) -> None:
    assert set(OPEN) <= {rule.rule for rule in all_rules(house)}


def test_no_stranger_enters_by_any_route(house: House) -> None:
    tried = 0
    for who, headers in strangers(house).items():
        client = house.service.app.test_client()
        for method, path in closed(house):
            answer = told(client, method, path, headers)
            assert answer.status_code == 401, (who, method, path, answer.status_code)
            assert answer.get_json()["code"] == "unpaired"
            assert "Set-Cookie" not in answer.headers
            tried += 1
    assert tried > 500
    assert house.camera.sent == []


def test_a_stranger_cannot_tell_what_there_is(house: House) -> None:
    shot = house.shot()["id"]
    house.press(shot)
    client = house.service.app.test_client()
    for path in (f"/shots/{shot}", "/shots/none", "/no/such/route"):
        answer = client.get(API + path)
        body = answer.get_json()
        assert body.pop("instance") == API + path
        assert (answer.status_code, body["code"]) == (401, "unpaired")
        assert shot not in str(body)


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Host": "evil.example"}, 421),
        ({"Host": "127.0.0.1.evil.example"}, 421),
        ({"Origin": "http://evil.example"}, 403),
        ({"Origin": "null"}, 403),
        ({"Sec-Fetch-Site": "cross-site"}, 403),
    ],
)
def test_not_even_the_paired_enter_by_another_name_or_from_another_page(
    house: House, headers: dict[str, str], status: int
) -> None:
    for method, path in asked(house):
        if "Sec-Fetch-Site" in headers and not path.startswith(API):
            continue  # a link on another site may lead to the page itself
        answer = told(house.client, method, path, headers)
        assert answer.status_code == status, (method, path, answer.status_code)
    assert house.camera.sent == []


@pytest.fixture
def served(house: House) -> Iterator[tuple[str, int]]:
    """The application on a real socket."""
    server = make_server("127.0.0.1", 0, house.service.app, threaded=True)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield "127.0.0.1", server.port
    house.service.viewers.close_all()
    house.stage.live.close()
    house.stage.events.close()
    server.shutdown()
    thread.join(10)
    server.server_close()


def handshake(place: tuple[str, int], path: str, headers: dict[str, str]) -> int:
    """The status that a websocket's handshake (RFC 6455, 4.1) is answered with."""
    head = {
        "Host": f"{place[0]}:{place[1]}",
        "Upgrade": "websocket",
        "Connection": "Upgrade",
        "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==",
        "Sec-WebSocket-Version": "13",
        **headers,
    }
    lines = [f"GET {path} HTTP/1.1", *(f"{name}: {value}" for name, value in head.items()), "", ""]
    with socket.create_connection(place, timeout=20) as sock:
        sock.sendall("\r\n".join(lines).encode())
        return int(sock.recv(200).split(b" ", 2)[1])


def test_no_stranger_enters_by_a_websocket(house: House, served: tuple[str, int]) -> None:
    sockets = [address(rule) for rule in all_rules(house) if rule.websocket]
    assert f"{API}/live" in sockets
    good = {"Authorization": house.client.environ_base["HTTP_AUTHORIZATION"]}
    for path in sockets:
        for who, headers in strangers(house).items():
            assert handshake(served, path, headers) == 401, (who, path)
        assert handshake(served, path, {**good, "Host": "evil.example"}) == 421
        for origin in ("http://evil.example", "null", f"https://127.0.0.1:{served[1]}"):
            assert handshake(served, path, {**good, "Origin": origin}) == 403, origin
        own = f"http://127.0.0.1:{served[1]}"
        assert handshake(served, path, {**good, "Origin": own}) in (101, 400, 404, 409)


class HandClock:
    """A clock that is moved by hand."""

    def __init__(self, house: House) -> None:
        self._house = house
        self.passed = 0.0

    def now(self) -> Any:
        return self._house.stage.clock.now() + timedelta(seconds=self.passed)

    def monotonic(self) -> float:
        return self.passed


def test_an_hour_of_guessing_tries_five_codes_a_minute_and_no_more(house: House) -> None:
    clock = HandClock(house)
    gate = Gate(house.library, clock)
    weighed = 0
    for turn in range(60 * 2):  # an hour, twelve guesses each half a minute
        clock.passed = turn * 30.0
        for guess in range(12):
            try:
                gate.pair(f"{guess:06d}", "guesser")
            except WrongCode:
                weighed += 1
            except PairingLocked:
                continue
    minutes = clock.passed / 60
    assert weighed <= (minutes + 1) * TRIES
    # One code lives ten minutes: the chance of guessing it is at most 50 in a million.
    assert TRIES * 10 / 1_000_000 <= 5e-5


def test_fifty_who_guess_at_once_share_five_tries(house: House) -> None:
    code = house.gate.new_code()
    found: list[str] = []

    def guess(number: int) -> None:
        wrong = f"{(int(code) + 1 + number) % 1_000_000:06d}"
        try:
            house.gate.pair(wrong, "guesser")
        except (WrongCode, PairingLocked) as error:
            found.append(error.code)

    guessing = [threading.Thread(target=guess, args=(number,)) for number in range(50)]
    for one in guessing:
        one.start()
    for one in guessing:
        one.join()
    assert sorted(found) == ["pairing_locked"] * (50 - TRIES) + ["wrong_code"] * TRIES


@pytest.mark.parametrize(
    "code", ["١٢٣٤٥٦", "123456\x00", "0x1E240", "1e5", "+12345", "", "  ", "½"]
)
def test_what_is_no_code_is_a_wrong_code(house: House, code: str) -> None:
    answer = house.service.app.test_client().post(f"{API}/pairing", json={"code": code})
    assert answer.status_code in (401, 422)


def test_an_old_code_is_no_code(house: House) -> None:
    clock = HandClock(house)
    gate = Gate(house.library, clock)
    code = gate.new_code()
    clock.passed = 601.0
    with pytest.raises(WrongCode):
        gate.pair(code, "late")
