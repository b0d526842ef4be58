"""The service as it is served: leaves politely and quickly, bears slow and many clients."""

import socket
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import websocket

from tests.service import Api, ServiceProcess
from tests.waiting import until


@pytest.fixture
def service(tmp_path: Path) -> Iterator[ServiceProcess]:
    with ServiceProcess(tmp_path / "library") as service:
        yield service


@pytest.fixture
def api(service: ServiceProcess) -> Iterator[Api]:
    api = service.api()
    api.wait_for_camera()
    yield api
    api.close()


def viewer(service: ServiceProcess, api: Api) -> websocket.WebSocket:
    address = service.url.replace("http", "ws", 1) + "/api/v1/live"
    bearer = str(api.session.headers["Authorization"])
    return websocket.create_connection(address, header={"Authorization": bearer}, timeout=20)


def test_it_leaves_within_a_second_and_tells_every_viewer(
    service: ServiceProcess, api: Api
) -> None:
    viewers = [viewer(service, api) for _ in range(6)]
    for one in viewers:
        one.send("next")
        assert one.recv()[:2] == b"\xff\xd8"
    stream = api.session.get(f"{api.url}/events", stream=True, timeout=20)
    start = time.monotonic()
    assert service.stop() == 0
    took = time.monotonic() - start
    for one in viewers:
        opcode, data = one.recv_data()
        assert opcode == websocket.ABNF.OPCODE_CLOSE
        assert int.from_bytes(data[:2], "big") == 1001
        one.shutdown()
    stream.close()
    assert took < 2.0, "goal 1 s on a quiet machine; the bench holds it to that"


def test_a_capture_in_progress_is_finished_first(tmp_path: Path) -> None:
    with ServiceProcess(tmp_path / "library") as service:
        api = service.api()
        api.wait_for_camera()
        shot = api.ok("POST", "/shots", json={"name": "cork"})["id"]
        path = f"/shots/{shot}/exposures"
        pressed = api.session.post(api.url + path, json={"count": 3}, timeout=30, stream=True)
        assert pressed.status_code == 201
        assert service.stop() == 0
        pressed.close()
        api.close()
    with ServiceProcess(tmp_path / "library") as service:
        api = service.api()
        assert api.ok("GET", f"/shots/{shot}")["exposure_count"] == 3
        api.close()


def test_killed_it_starts_again_at_once_on_the_same_library(tmp_path: Path) -> None:
    with ServiceProcess(tmp_path / "library") as service:
        service.kill()
    with ServiceProcess(tmp_path / "library") as service:
        assert service.url


def test_a_second_service_on_one_library_is_refused(service: ServiceProcess) -> None:
    second = ServiceProcess(service.library)
    assert second.process.wait(30) != 0
    until(lambda: "library" in second.output().lower())
    assert "Traceback" not in second.output()
    second._reader.join(5)
    assert second.process.stdout is not None
    second.process.stdout.close()


def test_five_hundred_silent_connections_keep_nobody_out(service: ServiceProcess, api: Api) -> None:
    host, port = service.url.removeprefix("http://").split(":")
    silent = [socket.create_connection((host, int(port)), timeout=10) for _ in range(500)]
    start = time.monotonic()
    assert api.ok("GET", "/health")["status"] == "well"
    assert time.monotonic() - start < 2
    for one in silent:
        one.close()


def test_slow_heads_do_not_use_up_the_threads(service: ServiceProcess, api: Api) -> None:
    host, port = service.url.removeprefix("http://").split(":")
    stream = api.session.get(f"{api.url}/events", stream=True, timeout=20)
    lines = stream.iter_lines(chunk_size=1)
    slow = [socket.create_connection((host, int(port)), timeout=30) for _ in range(150)]
    for one in slow:
        one.sendall(b"GET /api/v1/health HTTP/1.1\r\nHost: x")
    assert api.ok("GET", "/health")["status"] == "well"
    assert slow[0].recv(10) == b"", "a head that does not come whole is shut"
    beats = (line for line in lines if line == b"event: beat")
    for _ in range(3):
        assert next(beats), "a stream may last as long as it wants"
    stream.close()
    for one in slow:
        one.close()


def test_a_hundred_megabytes_get_a_problem(service: ServiceProcess, api: Api) -> None:
    answer = api.call("POST", "/shots", data=b"x" * 100_000_000)
    assert answer.status_code == 413
    assert answer.json()["code"] == "too_large"
    assert api.ok("GET", "/health")["status"] == "well"


@pytest.mark.parametrize(
    "raw",
    [
        b"nonsense\r\n\r\n",
        b"GET /api/v1/health HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: x\r\nX: " + b"y" * 20_000 + b"\r\n\r\n",
        b"POST /api/v1/shots HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n",
    ],
)
def test_nonsense_on_the_wire_is_answered_with_a_client_error(
    service: ServiceProcess, raw: bytes
) -> None:
    host, port = service.url.removeprefix("http://").split(":")
    with socket.create_connection((host, int(port)), timeout=30) as sock:
        sock.sendall(raw)
        status = sock.recv(100).split(b" ", 2)[1]
    assert status[:1] == b"4"
