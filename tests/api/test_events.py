"""The event stream: in order, resumable, and the screens' darkness before the shutter."""

import json
import threading
import time
from collections.abc import Iterator
from typing import Any

import pytest
import requests
from werkzeug.serving import make_server

from tests.api.conftest import House
from tests.waiting import until


@pytest.fixture
def url(house: House) -> Iterator[str]:
    """The application on a real socket."""
    server = make_server("127.0.0.1", 0, house.service.app, threaded=True)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{server.port}/api/v1"
    house.stage.events.close()
    server.shutdown()
    thread.join(10)
    server.server_close()


class Listener:
    """Reads the stream in a thread."""

    def __init__(self, house: House, url: str, query: str = "", last: str | None = None) -> None:
        headers = {"Authorization": house.client.environ_base["HTTP_AUTHORIZATION"]}
        if last is not None:
            headers["Last-Event-ID"] = last
        self.got: list[tuple[str, str | None, Any]] = []
        self.response = requests.get(
            f"{url}/events{query}", headers=headers, stream=True, timeout=30
        )
        assert self.response.status_code == 200
        assert self.response.headers["Content-Type"].startswith("text/event-stream")
        self.thread = threading.Thread(target=self._read, daemon=True)
        self.thread.start()
        until(lambda: self.got)

    def _read(self) -> None:
        event: dict[str, str] = {}
        for line in self.response.iter_lines(chunk_size=1, decode_unicode=True):
            if line:
                name, _, value = line.partition(": ")
                event[name] = value
            elif event:
                self.got.append((event["event"], event.get("id"), json.loads(event["data"])))
                event = {}

    def kinds(self) -> list[str]:
        return [kind for kind, _, _ in self.got if kind not in ("beat", "camera", "verdict")]

    def close(self) -> None:
        """After the hub is closed: the stream ends by itself."""
        self.thread.join(10)
        self.response.close()


def test_a_press_is_told_in_order(house: House, url: str) -> None:
    shot = house.shot()["id"]
    listener = Listener(house, url)
    item = house.press(shot, press="thumb-1")[0]
    until(lambda: "kept" in listener.kinds())
    assert listener.kinds() == ["hello", "exposing", "exposed", "kept"]
    data = {kind: data for kind, _, data in listener.got}
    assert data["exposing"]["press"] == data["kept"]["press"] == "thumb-1"
    assert data["exposed"]["ok"] is True
    assert data["kept"]["exposure"] == item
    assert data["hello"]["missed"] is False
    house.stage.events.close()
    listener.close()


def test_a_listener_that_lost_the_line_gets_what_it_missed(house: House, url: str) -> None:
    shot = house.shot()["id"]
    first = Listener(house, url)
    house.press(shot)
    until(lambda: "kept" in first.kinds())
    last = next(event_id for kind, event_id, _ in reversed(first.got) if event_id)
    house.press(shot)
    second = Listener(house, url, last=last)
    until(lambda: "kept" in second.kinds())
    assert second.kinds() == ["hello", "exposing", "exposed", "kept"]
    assert second.got[0][2]["missed"] is False
    third = Listener(house, url, last="other-1")
    assert third.got[0][2]["missed"] is True
    house.stage.events.close()
    for listener in (first, second, third):
        listener.close()


def test_the_shutter_waits_for_the_screens_to_be_black(house: House, url: str) -> None:
    shot = house.shot()["id"]
    screen = Listener(house, url, "?screen=phone")
    order: list[str] = []
    capture = house.camera.capture

    def noting() -> Any:
        order.append("shutter")
        return capture()

    house.camera.capture = noting  # type: ignore[method-assign]

    def go_black() -> None:
        until(lambda: "exposing" in screen.kinds())
        press = next(data["press"] for kind, _, data in screen.got if kind == "exposing")
        order.append("black")
        house.ok("POST", "/screens/phone/dark", json={"press": press})

    thread = threading.Thread(target=go_black)
    thread.start()
    house.press(shot)
    thread.join(10)
    assert order == ["black", "shutter"]
    house.stage.events.close()
    screen.close()


def test_a_screen_that_never_answers_costs_one_picture_a_moment(house: House, url: str) -> None:
    shot = house.shot()["id"]
    screen = Listener(house, url, "?screen=asleep")
    house.press(shot)
    start = time.monotonic()
    for _ in range(5):
        house.press(shot)
    assert time.monotonic() - start < 5 * 0.15, "it is not waited for again"
    house.stage.events.close()
    screen.close()


def test_failure_countdown_and_edits_are_told(house: House, url: str) -> None:
    shot = house.shot()["id"]
    listener = Listener(house, url)
    item = house.press(shot)[0]
    house.ok("PATCH", f"/shots/{shot}/exposures/{item['id']}", json={"hold": 2})
    house.ok("PUT", "/trigger", json={"mode": "self_timer", "shot": shot, "seconds": 1})
    until(lambda: listener.kinds().count("kept") == 2)
    house.camera.plugged = False
    until(lambda: house.stage.camera().state == "away")
    house.problem("POST", f"/shots/{shot}/exposures", 503, "camera_away", json={})
    until(lambda: "failed" in listener.kinds())
    told = [data for kind, _, data in listener.got if kind == "edited"]
    assert told[0]["exposures"] == [item["id"]]
    assert any(kind == "counting" and data["left_s"] == 1 for kind, _, data in listener.got)
    assert any(kind == "camera" and data["state"] == "away" for kind, _, data in listener.got)
    house.stage.events.close()
    listener.close()
