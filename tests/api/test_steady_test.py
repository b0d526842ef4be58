"""The steady test over the API: nothing is kept as an exposure, the diagnosis is kept."""

from pathlib import Path
from typing import Any

import pytest

from standclear.cameras.kinds import camera_from_id
from standclear.shooting.steadytest import pictures_of
from standclear.shooting.watches.steady import diagnose
from tests.api.conftest import House
from tests.service import ServiceProcess


def test_a_steady_set_passes_and_its_noise_fits_the_shots_thresholds(tmp_path: Path) -> None:
    with ServiceProcess(tmp_path / "library", "rehearsal:seed=3") as service:
        api = service.api()
        api.wait_for_camera()
        shot = api.ok("POST", "/shots", json={"name": "cork wakes"})["id"]
        assert api.call("GET", f"/shots/{shot}/steady-test").status_code == 404
        found = api.ok("POST", "/camera/steady-test", json={"shot": shot, "count": 4})
        assert found["passed"], found
        assert found["count"] == 4
        assert found["noise"]["shift_px"] > 0
        assert api.ok("GET", f"/shots/{shot}/steady-test") == found
        assert api.ok("GET", f"/shots/{shot}/thresholds") == found["thresholds"]
        assert api.ok("GET", f"/shots/{shot}")["exposure_count"] == 0
        api.close()


@pytest.mark.parametrize(
    ("orders", "causes"),
    [
        ("flicker=0.02", {"flicker", "mains_beat"}),  # 1/50 s could beat on 60 Hz mains
        ("creep=0.2", {"creep"}),
        ("auto=iso", {"setting_changed"}),
    ],
)
def test_what_is_not_steady_on_the_rehearsal_set_is_named(orders: str, causes: set[str]) -> None:
    camera = camera_from_id(f"rehearsal:seed=3,{orders}")
    camera.open()
    report = diagnose(pictures_of([camera.capture_test() for _ in range(5)]))
    camera.close()
    assert not report.passed
    assert causes & {symptom.cause for symptom in report.symptoms}, report.symptoms


def test_screens_go_dark_for_each_picture_and_nothing_is_kept(house: House) -> None:
    shot = house.shot()["id"]
    number, _ = house.stage.events.resume(None)
    house.ok("POST", "/camera/steady-test", json={"count": 3})
    kinds = [event.kind for event in house.stage.events.after(number, 1)]
    assert kinds.count("exposing") == kinds.count("exposed") == 3
    assert kinds[-1] == "steady_test"
    assert "kept" not in kinds
    assert house.ok("GET", f"/shots/{shot}/exposures")["items"] == []


def test_a_busy_camera_and_a_count_out_of_range_are_refused(house: House) -> None:
    with house.exposing(house.shot()["id"]):
        house.problem("POST", "/camera/steady-test", 409, "camera_busy", json={})
    for count in (2, 31):
        response = house.client.post("/api/v1/camera/steady-test", json={"count": count})
        assert response.status_code == 422
    house.problem("POST", "/camera/steady-test", 404, "not_found", json={"shot": "none"})


def test_a_black_picture_says_so(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    import cv2
    import numpy as np

    black = cv2.imencode(".jpg", np.zeros((180, 320, 3), np.uint8))[1].tobytes()
    monkeypatch.setattr("tests.toys.jpeg", lambda *_a, **_k: black)
    body: Any = house.problem(
        "POST", "/camera/steady-test", 422, "steady_test_impossible", json={"count": 3}
    )
    assert "lens cap" in body["detail"]
