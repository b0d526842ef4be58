"""Shots and exposures over the API: capture, hold, insert, retake, bin, undo, playback."""

import hashlib
import threading
from typing import Any

from tests.api.conftest import House
from tests.waiting import until


def numbers(house: House, shot: str) -> list[tuple[int, int]]:
    items = house.ok("GET", f"/shots/{shot}/exposures")["items"]
    return [(item["number"], item["hold"]) for item in items]


def test_a_press_is_kept_byte_for_byte_before_201(house: House) -> None:
    shot = house.shot()["id"]
    item = house.press(shot)[0]
    original = item["originals"][0]
    answer = house.client.get(original["url"], buffered=True)
    assert answer.data == house.camera.sent[0]
    assert original["sha256"] == hashlib.sha256(answer.data).hexdigest()
    assert original["size"] == len(answer.data)
    assert (original["width"], original["height"]) == (320, 180)
    assert original["media_type"] == "image/jpeg"
    assert item["number"] == 1
    assert item["verdict"] is None
    assert item["settings"] == {"shutter": "1/50"}
    assert "immutable" in answer.headers["Cache-Control"]
    again = house.client.get(
        original["url"], headers={"If-None-Match": answer.headers["ETag"]}, buffered=True
    )
    assert again.status_code == 304


def test_count_takes_several_in_order(house: House) -> None:
    shot = house.shot()["id"]
    items = house.press(shot, count=3, hold=2)
    assert [item["number"] for item in items] == [1, 2, 3]
    assert numbers(house, shot) == [(1, 2), (2, 2), (3, 2)]
    assert house.ok("GET", f"/shots/{shot}")["frame_count"] == 6


def test_insert_retake_bin_undo_redo(house: House) -> None:
    shot = house.shot()["id"]
    first, second = (house.press(shot)[0] for _ in range(2))
    between = house.press(shot, insert_after=first["id"])[0]
    assert between["number"] == 2
    house.press(shot, insert_after="start")
    order = [item["id"] for item in house.ok("GET", f"/shots/{shot}/exposures")["items"]]
    assert order[1:] == [first["id"], between["id"], second["id"]]
    retake = house.press(shot, replaces=between["id"])[0]
    assert retake["number"] == 3
    assert [item["id"] for item in house.ok("GET", f"/shots/{shot}/bin")["items"]] == [
        between["id"]
    ]
    house.ok("DELETE", f"/shots/{shot}/exposures/{first['id']}")
    assert house.ok("GET", f"/shots/{shot}")["exposure_count"] == 3
    after_undo = house.ok("POST", f"/shots/{shot}/undo")
    assert after_undo["exposure_count"] == 4
    assert after_undo["can_redo"]
    house.ok("POST", f"/shots/{shot}/redo")
    assert house.ok("GET", f"/shots/{shot}")["exposure_count"] == 3
    house.ok("POST", f"/shots/{shot}/exposures/{first['id']}/restore")
    assert house.ok("GET", f"/shots/{shot}")["exposure_count"] == 4


def test_nothing_to_undo_is_said(house: House) -> None:
    shot = house.shot()["id"]
    house.problem("POST", f"/shots/{shot}/undo", 409, "nothing_to_undo")


def test_holds_are_expanded_in_playback(house: House) -> None:
    shot = house.shot(frame_rate="24000/1001")["id"]
    a, b = house.press(shot, count=2)
    house.ok("PATCH", f"/shots/{shot}/exposures/{a['id']}", json={"hold": 3})
    playback = house.ok("GET", f"/shots/{shot}/playback")
    assert playback["frame_rate"] == "24000/1001"
    assert [frame["exposure"] for frame in playback["frames"]] == [a["id"]] * 3 + [b["id"]]
    last = house.ok("GET", f"/shots/{shot}/playback?last=2")["frames"]
    assert [frame["frame"] for frame in last] == [3, 4]
    part = house.ok("GET", f"/shots/{shot}/playback?from=2&to=3")["frames"]
    assert [frame["frame"] for frame in part] == [2, 3]
    preview = house.client.get(playback["frames"][0]["preview"] + "?width=160", buffered=True)
    assert preview.status_code == 200
    assert preview.mimetype == "image/jpeg"


def test_pages_follow_each_other(house: House) -> None:
    shot = house.shot()["id"]
    house.press(shot, count=5)
    seen: list[int] = []
    cursor: str | None = ""
    while cursor is not None:
        query = f"?limit=2&after={cursor}" if cursor else "?limit=2"
        page = house.ok("GET", f"/shots/{shot}/exposures{query}")
        seen += [item["number"] for item in page["items"]]
        cursor = page["next"]
    assert seen == [1, 2, 3, 4, 5]


def test_a_repeat_with_the_same_key_gets_the_first_answer(house: House) -> None:
    shot = house.shot()["id"]
    key = {"Idempotency-Key": "press-1"}
    first = house.press(shot, headers=key)
    again = house.press(shot, headers=key)
    assert first == again
    assert len(house.camera.sent) == 1
    house.problem(
        "POST",
        f"/shots/{shot}/exposures",
        409,
        "key_reused",
        json={"count": 2},
        headers=key,
    )


def test_a_repeat_while_the_first_is_being_taken_waits_for_it(house: House) -> None:
    shot = house.shot()["id"]
    house.camera.answer.clear()
    answers: list[Any] = []
    key = {"Idempotency-Key": "press-1"}

    def ask() -> None:
        client = house.service.app.test_client()
        client.environ_base.update(house.client.environ_base)
        path = f"/api/v1/shots/{shot}/exposures"
        answers.append(client.post(path, json={}, headers=key).get_json())

    threads = [threading.Thread(target=ask) for _ in range(2)]
    for thread in threads:
        thread.start()
    until(lambda: house.stage.camera().state == "exposing")
    house.camera.answer.set()
    for thread in threads:
        thread.join(20)
    assert answers[0] == answers[1]
    assert len(house.camera.sent) == 1


def test_a_second_press_meanwhile_is_told_that_the_camera_is_busy(house: House) -> None:
    shot = house.shot()["id"]
    with house.exposing(shot):
        house.problem("POST", f"/shots/{shot}/exposures", 409, "camera_busy", json={})
    assert numbers(house, shot) == [(1, 1)]


def test_a_failed_press_with_a_key_may_be_repeated(house: House) -> None:
    shot = house.shot()["id"]
    house.camera.plugged = False
    until(lambda: house.stage.camera().state == "away")
    key = {"Idempotency-Key": "press-1"}
    body = house.problem(
        "POST", f"/shots/{shot}/exposures", 503, "camera_away", json={}, headers=key
    )
    assert body["detail"] == "The cable is out."
    house.camera.plugged = True
    until(lambda: house.stage.camera().state == "ready")
    assert len(house.press(shot, headers=key)) == 1


def test_a_press_that_was_stuck_on_its_way_is_not_carried_out(house: House) -> None:
    shot = house.shot()["id"]
    house.problem(
        "POST", f"/shots/{shot}/exposures", 409, "press_too_late", json={"not_after_ms": 1000}
    )
    assert house.camera.sent == []


def test_if_match_protects_against_changes_elsewhere(house: House) -> None:
    shot = house.shot()
    answer = house.client.get(f"/api/v1/shots/{shot['id']}")
    tag = {"If-Match": answer.headers["ETag"]}
    house.ok("PATCH", f"/shots/{shot['id']}", json={"name": "cork hides"}, headers=tag)
    house.problem(
        "PATCH", f"/shots/{shot['id']}", 412, "changed_elsewhere", json={"name": "x"}, headers=tag
    )
    assert house.ok("GET", f"/shots/{shot['id']}")["name"] == "cork hides"


def test_a_shot_goes_to_the_bin_and_comes_back(house: House) -> None:
    shot = house.shot()["id"]
    house.press(shot)
    house.ok("DELETE", f"/shots/{shot}")
    assert house.ok("GET", "/shots")["items"] == []
    assert [one["id"] for one in house.ok("GET", "/shots?binned=true")["items"]] == [shot]
    house.ok("POST", f"/shots/{shot}/restore")
    assert house.ok("GET", f"/shots/{shot}")["exposure_count"] == 1


def test_emptying_the_bin_is_asked_for_by_name(house: House) -> None:
    shot = house.shot()["id"]
    item = house.press(shot)[0]
    house.ok("DELETE", f"/shots/{shot}/exposures/{item['id']}")
    house.problem("DELETE", f"/shots/{shot}/bin", 422, "invalid", json={"confirm": "yes"})
    path = house.library.original_path(shot, item["id"])
    assert path.exists()
    house.ok("DELETE", f"/shots/{shot}/bin", json={"confirm": "cork wakes"})
    assert not path.exists()
    assert house.ok("GET", f"/shots/{shot}/bin")["items"] == []
