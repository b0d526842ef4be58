"""A handset as the camera, from outside: the service in its process, a handset made of a socket."""

import base64
import hashlib
import json
import socket
import time
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from urllib.parse import urlsplit

import pytest
import requests
import websocket

from tests.api.handset_kit import TRACK, Handset
from tests.pictures import jpeg
from tests.service import Api, ServiceProcess
from tests.waiting import until


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[ServiceProcess]:
    folder = tmp_path_factory.mktemp("handset")
    with ServiceProcess(folder / "library", "handset") as service:
        yield service


@pytest.fixture
def api(service: ServiceProcess) -> Iterator[Api]:
    api = service.api()
    yield api
    api.close()


@pytest.fixture
def token(service: ServiceProcess) -> str:
    """Of a session of kind camera, as the page gets it by the code."""
    body = {"code": new_code(service), "kind": "camera"}
    answer = requests.post(f"{service.url}/api/v1/pairing", json=body, timeout=20)
    assert answer.json() == {"paired": True, "name": "", "kind": "camera"}
    return answer.cookies["standclear"]


def new_code(service: ServiceProcess) -> str:
    from standclear.clock import SystemClock
    from standclear.library.desk import Desk
    from standclear.web.gate import Gate

    service.code()  # its own is made before it is printed, and ours is to be the newer one
    with Desk.open(service.library, SystemClock()) as desk:
        return Gate(desk, SystemClock()).new_code()


@pytest.fixture
def handset(service: ServiceProcess, token: str, api: Api) -> Iterator[Handset]:
    handset = Handset(service, token)
    api.wait_for_camera()
    yield handset
    handset.leave()


@pytest.fixture
def shot(api: Api) -> str:
    return str(api.ok("POST", "/shots", json={"name": "cork"})["id"])


@pytest.fixture
def hands() -> Iterator[ThreadPoolExecutor]:
    with ThreadPoolExecutor(2) as hands:
        yield hands


def pressed(hands: ThreadPoolExecutor, api: Api, shot: str) -> "Future[requests.Response]":
    return hands.submit(api.call, "POST", f"/shots/{shot}/exposures", json={})


def test_a_press_is_answered_when_the_whole_photo_is_kept(
    handset: Handset, api: Api, shot: str, hands: ThreadPoolExecutor
) -> None:
    press = pressed(hands, api, shot)
    photo = jpeg(640, 360, seed=1)
    order = handset.order()["order"]
    answer = handset.upload(order, photo)
    sha256 = hashlib.sha256(photo).hexdigest()
    assert (answer.status_code, answer.json()["sha256"]) == (201, sha256)
    kept = press.result(20).json()["items"][0]["originals"][0]
    assert (kept["sha256"], kept["width"], kept["height"]) == (sha256, 640, 360)
    assert api.session.get(urlbase(api) + kept["url"], timeout=20).content == photo


def urlbase(api: Api) -> str:
    parts = urlsplit(api.url)
    return f"{parts.scheme}://{parts.netloc}"


def test_a_photo_sent_again_is_the_same_photo_and_another_is_refused(
    handset: Handset, api: Api, shot: str, hands: ThreadPoolExecutor
) -> None:
    press = pressed(hands, api, shot)
    order = handset.order()["order"]
    first = jpeg(64, 36, seed=2)
    assert handset.upload(order, first).status_code == 201
    assert press.result(20).status_code == 201
    again = handset.upload(order, first)
    assert again.status_code == 201, "the answer was lost on its way"
    other = handset.upload(order, jpeg(64, 36, seed=3))
    assert (other.status_code, other.json()["code"]) == (409, "another_photo")
    assert api.ok("GET", f"/shots/{shot}")["exposure_count"] == 1


def test_an_upload_cut_in_the_middle_keeps_nothing_until_it_comes_whole(
    handset: Handset, api: Api, shot: str, hands: ThreadPoolExecutor
) -> None:
    press = pressed(hands, api, shot)
    order = handset.order()["order"]
    photo = jpeg(640, 360, seed=4)
    cut_upload(handset, order, photo, len(photo) // 2)
    assert not press.done()
    assert handset.upload(order, photo).status_code == 201
    kept = press.result(20).json()["items"]
    assert [one["originals"][0]["size"] for one in kept] == [len(photo)]


def cut_upload(handset: Handset, order: str, photo: bytes, sent: int) -> None:
    """Send the head and a part of the body, then hang up."""
    parts = urlsplit(handset.url)
    digest = base64.b64encode(hashlib.sha256(photo).digest()).decode()
    head = (
        f"PUT {parts.path}/photos/{order} HTTP/1.1\r\nHost: {parts.netloc}\r\n"
        f"Authorization: {handset.bearer['Authorization']}\r\nContent-Length: {len(photo)}\r\n"
        f"Content-Digest: sha-256=:{digest}:\r\n\r\n"
    )
    with socket.create_connection((parts.hostname or "", parts.port or 0), timeout=10) as sock:
        sock.sendall(head.encode() + photo[:sent])


def test_an_altered_upload_is_refused_and_may_be_sent_again(
    handset: Handset, api: Api, shot: str, hands: ThreadPoolExecutor
) -> None:
    press = pressed(hands, api, shot)
    order = handset.order()["order"]
    photo = jpeg(64, 36, seed=5)
    wrong = handset.upload(order, photo, hashlib.sha256(b"other").digest())
    assert (wrong.status_code, wrong.json()["code"]) == (422, "bad_digest")
    assert handset.upload(order, photo).status_code == 201
    assert press.result(20).status_code == 201


def test_what_is_no_whole_picture_is_reported_and_not_kept(
    handset: Handset, api: Api, shot: str, hands: ThreadPoolExecutor
) -> None:
    press = pressed(hands, api, shot)
    half = jpeg(640, 360, seed=6)[:-500]
    assert handset.upload(handset.order()["order"], half).status_code == 201
    problem = press.result(20)
    assert (problem.status_code, problem.json()["code"]) == (503, "broken_picture")
    assert api.ok("GET", f"/shots/{shot}")["exposure_count"] == 0


def test_a_photo_that_nobody_waits_for_is_refused(handset: Handset) -> None:
    answer = handset.upload("0123456789abcdef", jpeg(64, 36))
    assert (answer.status_code, answer.json()["code"]) == (410, "order_void")


def test_a_handset_that_cannot_says_why(
    handset: Handset, api: Api, shot: str, hands: ThreadPoolExecutor
) -> None:
    press = pressed(hands, api, shot)
    order = handset.order()["order"]
    handset.say(says="failed", order=order, because="The lens is covered.", photo_taken=False)
    problem = press.result(20)
    assert problem.status_code == 503
    assert "The lens is covered." in problem.json()["detail"]
    assert problem.json()["picture_taken"] is False


def test_a_press_is_reported_within_three_seconds_when_the_handset_does_nothing(
    handset: Handset, api: Api, shot: str
) -> None:
    start = time.monotonic()
    problem = api.call("POST", f"/shots/{shot}/exposures", json={})
    assert time.monotonic() - start < 3.0
    assert (problem.status_code, problem.json()["code"]) == (503, "capture_failed")
    order = handset.order()["order"]
    until(lambda: handset.order("void")["order"] == order, 5)
    assert handset.upload(order, jpeg(64, 36)).status_code == 410, "never fired behind one's back"


@pytest.mark.parametrize("how", ["leave", "fall_silent"])
def test_a_lost_handset_is_reported_within_three_seconds_and_comes_back(
    service: ServiceProcess, handset: Handset, api: Api, token: str, how: str
) -> None:
    start = time.monotonic()
    getattr(handset, how)()
    until(lambda: api.ok("GET", "/camera")["state"] == "away", 10)
    assert time.monotonic() - start < 3.0
    assert "/handset" in api.ok("GET", "/camera")["says"]
    again = Handset(service, token)
    api.wait_for_camera()
    again.leave()


def test_a_photo_ordered_before_a_break_is_ordered_again_after_it(
    service: ServiceProcess, handset: Handset, api: Api, shot: str, hands: ThreadPoolExecutor
) -> None:
    press = pressed(hands, api, shot)
    order = handset.order()["order"]
    handset.leave()
    again = Handset(service, service.token())
    assert again.order()["order"] == order, "the same order: it can still take one photo only"
    assert again.upload(order, jpeg(64, 36, seed=7)).status_code == 201
    assert press.result(20).status_code == 201
    assert api.ok("GET", f"/shots/{shot}")["exposure_count"] == 1
    again.leave()


def test_the_newest_page_is_the_camera_and_the_other_is_told(
    service: ServiceProcess, handset: Handset, api: Api, token: str
) -> None:
    handset.fall_silent()  # what is sent to a closed connection resets it, and the code is lost
    other = Handset(service, token)
    until(lambda: handset.code == 4410, 10, "for the first page to be told")
    api.wait_for_camera()
    other.leave()


def test_a_page_that_comes_back_by_itself_takes_no_place_of_another(
    service: ServiceProcess, handset: Handset, api: Api, token: str
) -> None:
    handset.leave()  # the word that another has come may be lost with the connection
    other = Handset(service, token, more="&page=b")
    back = Handset(service, token, more="&page=a&again", silent=True)
    until(lambda: back.code == 4410, 10, "for the page that came back to be told")
    assert other.code is None
    other.leave()
    own = Handset(service, token, more="&page=b&again")
    api.wait_for_camera()
    own.leave()


def test_settings_are_ordered_and_what_cannot_be_set_is_automatic(
    handset: Handset, api: Api, hands: ThreadPoolExecutor
) -> None:
    settings = api.ok("GET", "/camera/settings")
    assert settings["shutter"]["value"] == "1/50"
    assert settings["shutter"]["automatic"] is True
    assert settings["focus"] | {"automatic": True, "writable": False} == settings["focus"]
    change = hands.submit(api.call, "PATCH", "/camera/settings", json={"shutter": "1/100"})
    order = handset.order("set")
    assert order["values"] == {"exposureMode": "manual", "exposureTime": 100.0}
    now = {**TRACK["settings"], "exposureMode": "manual", "exposureTime": 100}
    handset.say(says="facts", track={**TRACK, "settings": now}, battery_percent=80)
    handset.say(says="done", order=order["order"])
    answer = change.result(20).json()
    assert (answer["shutter"]["value"], answer["shutter"]["automatic"]) == ("1/100", False)
    refused = api.call("PATCH", "/camera/settings", json={"focus": "0.3"})
    assert (refused.status_code, refused.json()["code"]) == (422, "not_offered")


def test_warnings_and_battery_reach_the_remote(handset: Handset, api: Api) -> None:
    warning = "The handset's battery is at 19 %: plug it in."
    handset.say(says="facts", track=TRACK, battery_percent=19, warnings=[warning])
    camera = until(lambda: [one] if (one := api.ok("GET", "/camera"))["warnings"] else [], 10)[0]
    assert (camera["battery_percent"], camera["warnings"]) == (19, [warning])


def test_live_pictures_carry_their_true_age(
    service: ServiceProcess, handset: Handset, api: Api
) -> None:
    handset.say(says="beat", sent=1)
    answer = handset.order("time")
    bearer = str(api.session.headers["Authorization"])
    viewer = websocket.create_connection(
        service.url.replace("http", "ws", 1) + "/api/v1/live",
        header={"Authorization": bearer},
        timeout=20,
    )
    viewer.send("next")
    until(lambda: any(one == {"does": "live", "on": True} for one in handset.told), 10)
    begun = time.monotonic() * 1000  # both ends are on one machine, and so on one clock
    assert abs(begun - answer["now"]) < 60_000
    picture = jpeg(64, 36, seed=8)
    handset.show(picture, begun - 400)
    message = viewer.recv()
    taken = time.time() * 1000 - (time.monotonic() * 1000 - begun) - 400
    length = int.from_bytes(message[4:6], "big")
    story = json.loads(message[6 : 4 + length])
    assert abs(story["at_ms"] - taken) < 20
    assert message[:2] + message[4 + length :] == picture
    assert {"does": "got"} in handset.told
    viewer.close()


@pytest.mark.parametrize(
    "message", ["", "{}", '{"says": "dance"}', "[1]", '{"says": "facts", "battery_percent": 300}']
)
def test_a_handset_that_speaks_nonsense_is_closed(
    service: ServiceProcess, token: str, message: str
) -> None:
    handset = Handset(service, token, name="nonsense")
    handset.socket.send(message)
    until(lambda: handset.code == 1008, 10)
    handset.leave()


@pytest.mark.parametrize("bad", [b"", b"x", b"\0" * 8 + b"no jpeg"])
def test_a_live_picture_that_is_none_closes_the_handset(
    service: ServiceProcess, token: str, bad: bytes
) -> None:
    handset = Handset(service, token, name="nonsense")
    handset.socket.send_binary(bad)
    until(lambda: handset.code == 1008, 10)
    handset.leave()


def test_a_name_that_is_none_is_refused(service: ServiceProcess, token: str) -> None:
    handset = Handset(service, token, name="Not+A+Name", silent=True)
    until(lambda: handset.code == 4404, 10)
    handset.leave()


def test_deflate_is_not_agreed_to(service: ServiceProcess, token: str) -> None:
    offer = ["Sec-WebSocket-Extensions: permessage-deflate", f"Authorization: Bearer {token}"]
    address = service.url.replace("http", "ws", 1) + "/api/v1/handset"
    handset = websocket.create_connection(address, header=offer, timeout=10)
    assert "sec-websocket-extensions" not in handset.getheaders()
    handset.close()


def test_a_camera_may_not_touch_shots(service: ServiceProcess, token: str, api: Api) -> None:
    camera = Api(service.url, token)
    for method, path in (("GET", "/shots"), ("POST", "/shots"), ("GET", "/events")):
        answer = camera.call(method, path, json={"name": "x"} if method == "POST" else None)
        assert (answer.status_code, answer.json()["code"]) == (403, "camera_only")
    assert camera.ok("GET", "/pairing")["kind"] == "camera"
    camera.close()
    forged = Api(service.url, token.removeprefix("camera."))
    assert forged.call("GET", "/shots").status_code == 401, "the kind cannot be taken off"
    forged.close()
    assert api.ok("GET", "/pairing")["kind"] == "remote"


def test_a_stranger_may_be_no_camera(service: ServiceProcess) -> None:
    address = service.url.replace("http", "ws", 1) + "/api/v1/handset"
    with pytest.raises(websocket.WebSocketBadStatusException) as refused:
        websocket.create_connection(address, timeout=10)
    assert refused.value.status_code == 401
    answer = requests.put(f"{service.url}/api/v1/handset/photos/x", b"x", timeout=10)
    assert answer.status_code == 401


def test_a_handset_that_is_connected_is_listed(handset: Handset, api: Api) -> None:
    listed = api.ok("GET", "/cameras")["items"]
    assert [one["id"] for one in listed if one["kind"] == "handset"] == ["handset"]
