"""From a shot to a film over the API; the file is read with an independent program."""

import json
import subprocess
from pathlib import Path
from typing import Any

from tests.api.conftest import House
from tests.waiting import until


def finished(house: House, export: str) -> Any:
    """The export once it is over."""

    def over() -> Any:
        job = house.ok("GET", f"/exports/{export}")
        return job if job["state"] in ("done", "failed", "cancelled", "stopped") else None

    return until(over, 60)


def probed(path: Path) -> Any:
    """What ffprobe says of the file's picture."""
    done = subprocess.run(
        ["ffprobe", "-v", "error", "-count_frames", "-show_streams", "-of", "json", str(path)],
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(done.stdout)["streams"][0]


def test_a_shot_becomes_a_film_of_the_right_length(house: House, tmp_path: Path) -> None:
    shot = house.shot()["id"]
    house.press(shot, count=3, hold=4)
    job = house.ok("POST", f"/shots/{shot}/exports", json={"format": "h264"})
    done = finished(house, job["id"])
    assert done["state"] == "done", done
    answer = house.client.get(done["file"], buffered=True)
    assert answer.mimetype == "video/mp4"
    film = tmp_path / "film.mp4"
    film.write_bytes(answer.data)
    stream = probed(film)
    assert stream["codec_name"] == "h264"
    assert stream["nb_read_frames"] == "12"
    assert float(stream["duration"]) == 1.0
    assert [one["id"] for one in house.ok("GET", f"/shots/{shot}/exports")["items"]] == [job["id"]]
    house.ok("DELETE", f"/exports/{job['id']}")
    house.problem("GET", f"/exports/{job['id']}", 404, "not_found")


def test_an_empty_shot_says_that_there_is_nothing_to_make(house: House) -> None:
    shot = house.shot()["id"]
    answer = house.client.post(f"/api/v1/shots/{shot}/exports", json={"format": "h264"})
    if answer.status_code == 202:
        assert finished(house, answer.get_json()["id"])["state"] == "failed"
    else:
        assert answer.status_code in (409, 422)


def test_a_repeat_with_the_same_key_makes_one_export(house: House) -> None:
    shot = house.shot()["id"]
    house.press(shot)
    key = {"Idempotency-Key": "film-1"}
    first = house.ok("POST", f"/shots/{shot}/exports", json={"format": "csv"}, headers=key)
    again = house.ok("POST", f"/shots/{shot}/exports", json={"format": "csv"}, headers=key)
    assert first["id"] == again["id"]
    finished(house, first["id"])


def test_options_that_cannot_be(house: House) -> None:
    shot = house.shot()["id"]
    for body in (
        {"format": "betamax"},
        {"framing": {"shape": "3:1"}},
        {"time": {"loops": 0}},
        {"surprise": 1},
    ):
        house.problem("POST", f"/shots/{shot}/exports", 422, "invalid", json=body)
    house.problem("GET", "/exports/none", 404, "not_found")
    house.problem("POST", "/exports/none/cancel", 404, "not_found")
