"""HTTPS and HTTP at one port, from outside: who trusts the authority gets in, others are led."""

import hashlib
import json
import socket
import ssl
import subprocess
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import requests
import websocket

from tests.handset_kit import NAME, SecureService, free_port
from tests.service import ServiceProcess
from tests.waiting import until


class Rehearsing(SecureService):
    """The same with the rehearsal set as its camera."""

    @staticmethod
    def command(library: Path, camera: str, *more: str) -> list[str]:
        """What Python runs."""
        return ServiceProcess.command(library, "rehearsal", *more)


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SecureService]:
    with Rehearsing(tmp_path_factory.mktemp("secure"), free_port()) as service:
        yield service


@pytest.fixture
def session(service: SecureService) -> Iterator[requests.Session]:
    with service.session() as session:
        yield session


def plain(service: SecureService) -> str:
    return f"http://127.0.0.1:{service.port}"


def test_it_says_where_it_listens_and_what_its_authority_is(service: SecureService) -> None:
    assert service.url == f"https://127.0.0.1:{service.port}"
    told = service.find(r"certificate fingerprint: ((?:[0-9A-F]{2}:){31}[0-9A-F]{2})")
    der = ssl.PEM_cert_to_DER_cert(service.authority().read_text())
    assert told.replace(":", "").lower() == hashlib.sha256(der).hexdigest()
    facts = requests.get(f"{plain(service)}/trust.json", timeout=20).json()
    assert facts == {"secure": True, "fingerprint": told}


def test_who_does_not_trust_the_authority_is_refused_by_its_own_check(
    service: SecureService,
) -> None:
    stranger = ssl.create_default_context()
    with (
        socket.create_connection(("127.0.0.1", service.port), timeout=20) as sock,
        pytest.raises(ssl.SSLCertVerificationError),
    ):
        stranger.wrap_socket(sock, server_hostname="127.0.0.1")


def test_a_name_given_with_name_is_in_the_certificate(service: SecureService) -> None:
    trusting = ssl.create_default_context(cafile=str(service.authority()))
    with (
        socket.create_connection(("127.0.0.1", service.port), timeout=20) as sock,
        trusting.wrap_socket(sock, server_hostname=NAME) as tls,
    ):
        assert tls.version() in ("TLSv1.2", "TLSv1.3")


def test_old_tls_is_refused(service: SecureService) -> None:
    """TLS 1.0 and 1.1 must not be used (RFC 8996)."""
    client = ["openssl", "s_client", "-connect", f"127.0.0.1:{service.port}"]
    old = ["-tls1_1", "-cipher", "DEFAULT@SECLEVEL=0"]
    for options, fine in ((old, False), (["-tls1_2"], True)):
        done = subprocess.run(
            [*client, *options],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=30,
            check=False,
        )
        assert (done.returncode == 0) is fine, done.stderr


def test_the_cookie_never_travels_in_the_open(
    service: SecureService, session: requests.Session
) -> None:
    body = {"code": service.code()}
    answer = session.post(f"{service.url}/api/v1/pairing", json=body, timeout=20)
    assert answer.status_code == 201
    cookie = answer.headers["Set-Cookie"]
    assert {"Secure", "HttpOnly", "SameSite=Strict"} <= set(cookie.split("; "))


def test_plain_http_gives_what_leads_to_trust_and_nothing_else(service: SecureService) -> None:
    def get(path: str) -> requests.Response:
        return requests.get(plain(service) + path, timeout=20, allow_redirects=False)

    for path in ("/trust", "/ca.crt", "/trust.json", "/css/colors.css", "/views/trust.js"):
        assert get(path).status_code == 200, path
    for path in ("/", "/handset"):
        assert get(path).headers["Location"].endswith(f"/trust?to={path}")
    onward = get("/index.html")
    assert (onward.status_code, onward.headers["Location"][:5]) == (307, "https")
    refused = get("/api/v1/health")
    assert (refused.status_code, refused.json()["code"]) == (403, "not_secure")


def test_the_host_is_checked_before_anybody_is_sent_on(service: SecureService) -> None:
    """Else a page elsewhere could send phones anywhere through us."""
    headers = {"Host": f"elsewhere.example:{service.port}"}
    for path in ("/", "/x", "/ca.crt"):
        answer = requests.get(
            plain(service) + path, headers=headers, timeout=20, allow_redirects=False
        )
        assert answer.status_code == 421


@pytest.mark.parametrize(("scheme", "status"), [("https", 200), ("http", 403)])
def test_only_the_secure_page_is_our_own_origin(
    service: SecureService, session: requests.Session, scheme: str, status: int
) -> None:
    headers = {"Origin": f"{scheme}://127.0.0.1:{service.port}"}
    answer = session.get(f"{service.url}/api/v1/shots", headers=headers, timeout=20)
    assert answer.status_code == status


def test_live_pictures_come_whole_over_tls_while_others_press(
    service: SecureService, session: requests.Session
) -> None:
    """A websocket is read and written by different threads; with TLS both need the same keys."""
    until(
        lambda: session.get(f"{service.url}/api/v1/camera", timeout=20).json()["state"] == "ready",
        30,
    )
    viewers = [
        websocket.create_connection(
            f"wss://127.0.0.1:{service.port}/api/v1/live",
            header={"Authorization": session.headers["Authorization"]},
            sslopt={"ca_certs": session.verify},
            timeout=30,
        )
        for _ in range(4)
    ]
    broken: list[int] = []

    def watch(viewer: websocket.WebSocket) -> None:
        for _ in range(40):
            viewer.send(json.dumps({"want": "next"}))
            viewer.ping("there?")  # answered by the thread that reads, amid the pictures
            picture = viewer.recv()
            if picture[:2] != b"\xff\xd8" or picture[-2:] != b"\xff\xd9":
                broken.append(len(picture))

    threads = [threading.Thread(target=watch, args=(viewer,)) for viewer in viewers]
    for thread in threads:
        thread.start()
    shot = session.post(f"{service.url}/api/v1/shots", json={"name": "cork"}, timeout=60).json()
    pressed = session.post(
        f"{service.url}/api/v1/shots/{shot['id']}/exposures", json={"count": 3}, timeout=60
    )
    for thread in threads:
        thread.join(60)
    for viewer in viewers:
        viewer.shutdown()
    assert pressed.status_code == 201
    assert not broken
    item = pressed.json()["items"][0]["originals"][0]
    assert len(session.get(service.url + item["url"], timeout=60).content) == item["size"]


def test_a_handshake_that_does_not_go_on_keeps_nobody_out(
    service: SecureService, session: requests.Session
) -> None:
    stuck = [socket.create_connection(("127.0.0.1", service.port), timeout=30) for _ in range(40)]
    for one in stuck:
        one.sendall(b"\x16\x03\x01\x02\x00\x01")  # the head of a handshake (RFC 8446, 5.1)
    start = time.monotonic()
    assert session.get(f"{service.url}/api/v1/health", timeout=20).status_code == 200
    assert time.monotonic() - start < 5
    assert stuck[0].recv(10) in (b"", b"\x15\x03"), "shut within the limit for slow senders"
    for one in stuck:
        one.close()


@pytest.mark.parametrize("raw", [b"\x16\x03\x01\x00\x05hello", b"\x16" * 600])
def test_nonsense_instead_of_a_handshake_is_let_go(
    service: SecureService, session: requests.Session, raw: bytes
) -> None:
    with socket.create_connection(("127.0.0.1", service.port), timeout=20) as sock:
        sock.sendall(raw)
        while sock.recv(1000):
            continue
    assert session.get(f"{service.url}/api/v1/health", timeout=20).status_code == 200
    assert "Traceback" not in service.output()


def test_it_leaves_within_two_seconds_with_viewers_over_tls(tmp_path: Path) -> None:
    with Rehearsing(tmp_path, free_port()) as service, service.session() as session:
        viewer = websocket.create_connection(
            f"wss://127.0.0.1:{service.port}/api/v1/live",
            header={"Authorization": session.headers["Authorization"]},
            sslopt={"ca_certs": session.verify},
            timeout=30,
        )
        viewer.send("next")
        viewer.recv()
        start = time.monotonic()
        assert service.stop() == 0
        assert time.monotonic() - start < 2.5, "goal 1 s on a quiet machine"
        opcode, data = viewer.recv_data()
        assert (opcode, data[:2]) == (websocket.ABNF.OPCODE_CLOSE, (1001).to_bytes(2, "big"))
        viewer.shutdown()


def test_plain_http_stays_the_default(tmp_path: Path) -> None:
    with ServiceProcess(tmp_path / "library") as service:
        assert service.url.startswith("http://")
        assert requests.get(f"{service.url}/ca.crt", timeout=20).status_code == 404
        facts = requests.get(f"{service.url}/trust.json", timeout=20).json()
        assert facts == {"secure": False, "fingerprint": ""}
        answer = requests.post(
            f"{service.url}/api/v1/pairing", json={"code": service.code()}, timeout=20
        )
        assert "Secure" not in answer.headers["Set-Cookie"]
