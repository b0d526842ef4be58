"""The live view over real sockets: newest only, whole under small buffers, closed with 1001."""

import json
import socket
import threading
import time
from collections.abc import Iterator
from typing import Any

import cv2
import numpy as np
import pytest
import websocket
from werkzeug.serving import make_server
from wsproto.frame_protocol import FrameProtocol

from standclear.cameras.base import LivePicture
from standclear.web.live import message_head
from tests.api.conftest import House
from tests.waiting import until


@pytest.fixture
def address(house: House) -> Iterator[str]:
    """The application on a real socket."""
    server = make_server("127.0.0.1", 0, house.service.app, threaded=True)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield f"127.0.0.1:{server.port}"
    house.service.viewers.close_all()
    house.stage.live.close()
    house.stage.events.close()
    server.shutdown()
    thread.join(10)
    server.server_close()


def connect(house: House, address: str, **options: Any) -> Any:
    bearer = house.client.environ_base["HTTP_AUTHORIZATION"]
    return websocket.create_connection(
        f"ws://{address}/api/v1/live", header={"Authorization": bearer}, timeout=10, **options
    )


def story(message: bytes) -> Any:
    """The JSON in the first comment segment."""
    assert message[:4] == b"\xff\xd8\xff\xfe"
    length = int.from_bytes(message[4:6], "big")
    return json.loads(message[6 : 4 + length])


def test_each_answer_is_a_jpeg_newer_than_the_last(house: House, address: str) -> None:
    viewer = connect(house, address)
    seen = 0
    for _ in range(10):
        viewer.send("next")
        message = viewer.recv()
        told = story(message)
        assert told["seq"] > seen
        assert told["source"] == "live"
        assert abs(told["at_ms"] - time.time() * 1000) < 5000
        picture = cv2.imdecode(np.frombuffer(message, np.uint8), cv2.IMREAD_COLOR)
        assert picture is not None
        assert picture.shape == (180, 320, 3)
        seen = told["seq"]
    viewer.close()


def test_nothing_is_sent_that_was_not_asked_for(house: House, address: str) -> None:
    viewer = connect(house, address)
    viewer.send("next")
    first = story(viewer.recv())
    viewer.settimeout(0.3)
    with pytest.raises(websocket.WebSocketTimeoutException):
        viewer.recv()
    viewer.settimeout(10)
    viewer.send("next")
    newest = story(viewer.recv())
    assert newest["seq"] > first["seq"] + 1, "a slow viewer gets the newest, not the next"
    assert newest["age_ms"] < 200
    viewer.close()


def test_a_large_picture_arrives_whole_through_a_small_buffer(house: House, address: str) -> None:
    house.camera.alive = lambda: None  # type: ignore[method-assign]
    noise = np.random.default_rng(1).integers(0, 255, (720, 1280, 3), dtype=np.uint8)
    house.camera.live = lambda: LivePicture(at=time.monotonic(), pixels=noise)  # type: ignore[method-assign]
    viewer = connect(house, address, sockopt=((socket.SOL_SOCKET, socket.SO_RCVBUF, 4096),))
    for _ in range(3):
        viewer.send("next")
        message = viewer.recv()
        if len(message) > 200_000:
            break
    picture = cv2.imdecode(np.frombuffer(message, np.uint8), cv2.IMREAD_COLOR)
    assert picture is not None
    assert picture.shape == (720, 1280, 3)
    viewer.close()


def test_a_width_can_be_asked_for(house: House, address: str) -> None:
    viewer = connect(house, address)
    viewer.send(json.dumps({"want": "next", "width": 160}))
    assert story(viewer.recv())["seq"] > 0
    for nonsense in ("{", "[]", '{"width": "x"}', '{"width": -1}', "x" * 2000):
        viewer.send(nonsense)
        assert story(viewer.recv())["seq"] > 0
    viewer.close()


def test_deflate_is_not_agreed_to(house: House, address: str) -> None:
    bearer = house.client.environ_base["HTTP_AUTHORIZATION"]
    viewer = websocket.create_connection(
        f"ws://{address}/api/v1/live",
        header={
            "Authorization": bearer,
            "Sec-WebSocket-Extensions": "permessage-deflate; client_max_window_bits",
        },
        timeout=10,
    )
    assert "sec-websocket-extensions" not in viewer.getheaders()
    viewer.close()


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 401),
        ({"Authorization": "Bearer forged"}, 401),
        ({"Host": "evil.example"}, 421),
        ({"Origin": "http://evil.example"}, 403),
        ({"Origin": "null"}, 403),
    ],
)
def test_strangers_do_not_see(
    house: House, address: str, headers: dict[str, str], status: int
) -> None:
    options: dict[str, Any] = {"suppress_origin": True}
    given = dict(headers)
    if "Host" in given:
        options["host"] = given.pop("Host")
    if "Origin" in given:
        options = {"origin": given.pop("Origin")}
    if status != 401:
        given["Authorization"] = house.client.environ_base["HTTP_AUTHORIZATION"]
    with pytest.raises(websocket.WebSocketBadStatusException) as refused:
        websocket.create_connection(
            f"ws://{address}/api/v1/live", header=given, timeout=10, **options
        )
    assert refused.value.status_code == status


def test_viewers_are_told_when_the_service_stops(house: House, address: str) -> None:
    viewer = connect(house, address)
    viewer.send("next")
    viewer.recv()
    house.service.viewers.close_all()
    opcode, data = viewer.recv_data()
    assert opcode == websocket.ABNF.OPCODE_CLOSE
    assert int.from_bytes(data[:2], "big") == 1001
    viewer.shutdown()


def test_fifty_viewers_that_come_and_go_leave_no_thread(house: House, address: str) -> None:
    viewer = connect(house, address)
    viewer.close()
    before = threading.active_count()
    for _ in range(50):
        viewer = connect(house, address)
        viewer.send("next")
        viewer.recv()
        viewer.close()
    until(lambda: threading.active_count() <= before + 2)
    until(lambda: not house.stage.live.watched)


@pytest.mark.parametrize("length", [0, 125, 126, 65_535, 65_536, 1_000_000])
def test_a_message_is_framed_as_another_library_frames_it(length: int) -> None:
    # wsproto's own frames, as a reference (RFC 6455, 5.2).
    protocol = FrameProtocol(client=False, extensions=[])
    body = b"x" * length
    assert message_head(length) + body == protocol.send_data(body, fin=True)
