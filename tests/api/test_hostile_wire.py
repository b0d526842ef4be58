"""What a hostile neighbour may send: paths, headers, bodies that are bombs, and much too slowly.

All of it over the wire to the real service, which must answer, keep its secrets, and go on serving.
"""

import json
import resource
import socket
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import psutil
import pytest

from tests.pictures import jpeg
from tests.service import Api, ServiceProcess
from tests.waiting import until

CONNECTIONS = 1000
SLOW = 40


class Narrow(ServiceProcess):
    """A service that was started with the 1,024 open files that most shells allow."""

    @staticmethod
    def command(library: Path, camera: str, *more: str) -> list[str]:
        """What Python runs."""
        _, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        serve = [sys.executable, "-u", *ServiceProcess.command(library, camera, *more)]
        code = (
            "import os, resource, sys;"
            f"resource.setrlimit(resource.RLIMIT_NOFILE, (1024, {hard}));"
            "os.execv(sys.argv[1], sys.argv[1:])"
        )
        return ["-c", code, *serve]


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[ServiceProcess]:
    folder = tmp_path_factory.mktemp("hostile")
    (folder / "sees").mkdir()
    (folder / "sees" / "view.jpg").write_bytes(jpeg(320, 180, seed=1))
    env = {"VCAMERADIR": str(folder / "sees")}
    with Narrow(folder / "library", "tethered", env=env) as service:
        yield service


@pytest.fixture(scope="module")
def api(service: ServiceProcess) -> Iterator[Api]:
    api = service.api()
    api.wait_for_camera()
    yield api
    api.close()


@pytest.fixture(autouse=True)
def _still_well(service: ServiceProcess, api: Api) -> Iterator[None]:
    """After each of these the service is well, and nothing was unforeseen."""
    yield
    assert api.ok("GET", "/health")["status"] == "well"
    assert "Traceback" not in service.output(), service.output()[-3000:]


def place(service: ServiceProcess) -> tuple[str, int]:
    host, port = service.url.removeprefix("http://").split(":")
    return host, int(port)


@contextmanager
def many(service: ServiceProcess, count: int) -> Iterator[list[socket.socket]]:
    """So many connections, closed whatever comes."""
    with ExitStack() as stack:
        yield [
            stack.enter_context(socket.create_connection(place(service), timeout=60))
            for _ in range(count)
        ]


def sent(service: ServiceProcess, raw: bytes) -> bytes:
    """What the service answers to these bytes, until it closes."""
    with socket.create_connection(place(service), timeout=30) as sock:
        sock.sendall(raw)
        answer = b""
        while len(answer) < 100_000:
            piece = sock.recv(65536)
            if not piece:
                break
            answer += piece
    return answer


def request(service: ServiceProcess, line: str, *headers: str, body: bytes = b"") -> bytes:
    host, port = place(service)
    head = [line, f"Host: {host}:{port}", "Connection: close", *headers]
    return sent(service, "\r\n".join([*head, "", ""]).encode("latin-1") + body)


@pytest.mark.parametrize(
    "path",
    [
        "/../../../../etc/passwd",
        "/%2e%2e/%2e%2e/%2e%2e/etc/passwd",
        "/..%2f..%2f..%2fetc%2fpasswd",
        "/core/..%5c..%5c..%5cetc%5cpasswd",
        "/core/../../pyproject.toml",
        "//etc/passwd",
        "/%00/etc/passwd",
        "/core/%00",
        "/%c0%ae%c0%ae/%c0%ae%c0%ae/etc/passwd",
        "/....//....//etc/passwd",
        "/library.db",
        "/../library/library.db",
        "/api/v1/../../library.db",
        "http://evil.example/etc/passwd",
        "/views/" + "a/../" * 300,
    ],
)
def test_no_path_leads_out_of_the_page(service: ServiceProcess, path: str) -> None:
    answer = request(service, f"GET {path} HTTP/1.1")
    status = answer.split(b" ", 2)[1]
    assert status in (b"400", b"401", b"403", b"404", b"414", b"421"), answer[:200]
    assert b"root:" not in answer
    assert b"SQLite format" not in answer
    assert b"[project]" not in answer


@pytest.mark.parametrize(
    "part", ["..%2f..%2f..%2fetc", "%2e%2e", "..%5c..", "%00", "con", "*", "'"]
)
def test_no_id_leads_out_of_the_library(service: ServiceProcess, api: Api, part: str) -> None:
    bearer = f"Authorization: {api.session.headers['Authorization']}"
    shot = api.ok("POST", "/shots", json={"name": "cork"})["id"]
    for path in (
        f"/shots/{part}",
        f"/shots/{part}/exposures/{part}/original",
        f"/shots/{shot}/exposures/{part}/original?file=0",
        f"/shots/{shot}/exposures/{part}/preview?width=640",
        f"/exports/{part}/file",
        f"/shots/{part}/sound",
    ):
        answer = request(service, f"GET /api/v1{path} HTTP/1.1", bearer)
        assert answer.split(b" ", 2)[1] == b"404", (path, answer[:300])


HOSTILE_HEADERS = [
    ("Idempotency-Key: a\rSet-Cookie: b=c", b"400"),
    ("Last-Event-ID: 1\x00", b"400"),
    ("X-Forwarded-Host: evil.example", b"200"),
    ("X-Forwarded-For: 127.0.0.1", b"200"),
    ("X-Original-URL: /api/v1/shots", b"200"),
    ("Forwarded: host=evil.example;proto=https", b"200"),
    (" leading: space", b"400"),
    ("Content-Length : 5", b"400"),
    ("Content-Length: 5\r\nContent-Length: 6", b"400"),
    ("Content-Length: 5\r\nTransfer-Encoding: chunked", b"400"),
    ("Transfer-Encoding: chunked\r\nTransfer-Encoding: identity", b"400"),
    ("Content-Length: -5", b"400"),
    ("X: " + "y" * 9000, b"431"),
]


@pytest.mark.parametrize(("header", "status"), HOSTILE_HEADERS)
def test_headers_cannot_be_smuggled(service: ServiceProcess, header: str, status: bytes) -> None:
    answer = request(service, "GET /api/v1/health HTTP/1.1", header)
    found = answer.split(b" ", 2)[1]
    assert found == status or (status != b"200" and found in (b"400", b"431", b"501")), answer[:300]
    assert b"set-cookie" not in answer.lower()
    assert b"evil.example" not in answer


@pytest.mark.parametrize("name", ["cork\r\nSet-Cookie: a=b", "cork\nX: y", "a\x00b", "a\x1b[2Jb"])
def test_no_name_reaches_a_header(service: ServiceProcess, api: Api, name: str) -> None:
    made = api.call("POST", "/shots", json={"name": name})
    if made.status_code == 422:
        return
    shot = made.json()["id"]
    sheet = api.call("GET", f"/shots/{shot}/sheet.pdf")
    assert sheet.status_code == 200
    assert "Set-Cookie" not in sheet.headers
    assert "\n" not in sheet.headers.get("Content-Disposition", "")


BOMBS = {
    "deep arrays": b"[" * 200_000,
    "deep objects": b'{"name":' * 100_000,
    "deep inside": b'{"name": "x", "notes": ' + b"[" * 100_000 + b"]" * 100_000 + b"}",
    "a number of many digits": b'{"name": "x", "frame_rate": ' + b"9" * 500_000 + b"}",
    "an exponent": b'{"name": "x", "frame_rate": 1e999999999}',
    "many members": b'{"name": "x"' + b"".join(b',"m%d":1' % n for n in range(80_000)) + b"}",
    "half a surrogate": b'{"name": "\\ud800"}',
    "not a number": b'{"name": NaN}',
}


@pytest.mark.parametrize("bomb", BOMBS)
def test_json_bombs_get_a_problem_at_once(api: Api, bomb: str) -> None:
    start = time.monotonic()
    answer = api.call(
        "POST", "/shots", data=BOMBS[bomb], headers={"Content-Type": "application/json"}
    )
    assert answer.status_code in (400, 413, 422), (answer.status_code, answer.text[:300])
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert len(answer.content) < 20_000
    assert time.monotonic() - start < 10


@pytest.mark.parametrize("path", ["/pairing", "/trigger", "/camera/settings", "/camera"])
def test_deep_json_is_refused_by_every_resource(api: Api, path: str) -> None:
    method = {"/pairing": "POST", "/camera/settings": "PATCH"}.get(path, "PUT")
    headers = {"Content-Type": "application/json"}
    answer = api.call(method, path, data=b"[" * 50_000, headers=headers)
    assert answer.status_code in (400, 422)


@pytest.mark.parametrize(
    "text",
    [
        "wait 1 s, hold\n" * 20_000,
        "peek " + "9" * 100_000 + " mm over 0.5 s\n",
        "creep 80 mm over 1e400 s\n",
        "a" * 900_000,
        "(" * 100_000,
        "\n" * 900_000,
        "wait 999999999999999999 h\n",
    ],
    ids=["many", "digits", "exponent", "long", "deep", "empty", "endless"],
)
def test_plans_that_are_bombs_get_a_problem_at_once(api: Api, text: str) -> None:
    shot = api.ok("POST", "/shots", json={"name": "cork"})["id"]
    start = time.monotonic()
    answer = api.call("PUT", f"/shots/{shot}/plan", json={"text": text})
    assert answer.status_code in (200, 400, 413, 422), answer.text[:300]
    assert time.monotonic() - start < 20


def test_a_body_that_drips_is_cut_off(service: ServiceProcess, api: Api) -> None:
    """Slow bodies, as slow heads in test_server.py: ten seconds for the whole."""
    host, port = place(service)
    head = (
        f"POST /api/v1/pairing HTTP/1.1\r\nHost: {host}:{port}\r\n"
        "Content-Type: application/json\r\nContent-Length: 1000\r\n\r\n"
    )
    start = time.monotonic()
    with many(service, SLOW) as slow:
        for one in slow:
            one.sendall(head.encode())
        for _ in range(6):
            for one in slow:
                one.sendall(b" ")
            assert api.ok("GET", "/health")["status"] == "well"
        for one in slow:
            answer = one.recv(1000)
            assert answer == b"" or answer.split(b" ", 2)[1] in (b"400", b"408"), answer
    assert time.monotonic() - start < 40


def test_a_reader_that_never_reads_holds_up_nobody(service: ServiceProcess, api: Api) -> None:
    host, port = place(service)
    bearer = api.session.headers["Authorization"]
    line = f"GET /api/v1/events HTTP/1.1\r\nHost: {host}:{port}\r\nAuthorization: {bearer}\r\n\r\n"
    with many(service, 8) as deaf:
        for one in deaf:
            one.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
            one.sendall(line.encode())
        shot = api.ok("POST", "/shots", json={"name": "cork"})["id"]
        assert len(api.ok("POST", f"/shots/{shot}/exposures", json={"count": 3})["items"]) == 3


def test_a_thousand_held_connections_keep_nobody_from_the_shutter(
    service: ServiceProcess, api: Api
) -> None:
    process = psutil.Process(service.process.pid)
    shot = api.ok("POST", "/shots", json={"name": "cork"})["id"]
    before = process.memory_info().rss
    with many(service, CONNECTIONS) as held:
        for one in held[::2]:
            one.sendall(b"GET /api/v1/health HTTP/1.1\r\nHost:")
        start = time.monotonic()
        assert api.ok("POST", f"/shots/{shot}/exposures", json={})["items"][0]["number"] == 1
        took = time.monotonic() - start
        fresh = service.api()  # a new connection comes in beside them
        assert fresh.ok("GET", "/health")["status"] == "well"
        fresh.close()
        grown = process.memory_info().rss - before
    assert took < 20
    assert grown < 150_000_000
    until(lambda: process.num_fds() < 200, 60)


def test_what_a_stranger_sends_in_bulk_is_not_read_to_its_end(service: ServiceProcess) -> None:
    """100 MB at pairing, the one place that takes a body from strangers."""
    host, port = place(service)
    head = (
        f"POST /api/v1/pairing HTTP/1.1\r\nHost: {host}:{port}\r\nContent-Length: {10**8}\r\n\r\n"
    )
    with socket.create_connection((host, port), timeout=30) as sock:
        sock.sendall(head.encode())
        answer = sock.recv(4000)
    assert answer.split(b" ", 2)[1] == b"413"
    assert (
        json.loads(answer.split(b"\r\n\r\n", 1)[1] or b'{"code": "too_large"}')["code"]
        == "too_large"
    )
