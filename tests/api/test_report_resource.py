"""`GET /shots/{shot}/report`: from the stored verdicts, paged, and never without an answer."""

from tests.api.conftest import House
from tests.waiting import until


def test_the_report_pages_its_frames_and_names_thresholds(house: House) -> None:
    shot = house.shot()["id"]
    items = house.press(shot, count=5)
    until(lambda: all(e["verdict"] for e in house.ok("GET", f"/shots/{shot}/exposures")["items"]))
    first = house.ok("GET", f"/shots/{shot}/report?limit=3")
    assert [frame["exposure"] for frame in first["frames"]] == [one["id"] for one in items[:3]]
    assert first["next"] == 4
    rest = house.ok("GET", f"/shots/{shot}/report?limit=3&first=4")
    assert [frame["number"] for frame in rest["frames"]] == [4, 5]
    assert rest["next"] is None
    assert rest["exposure_count"] == 5
    assert rest["thresholds"] == house.ok("GET", f"/shots/{shot}/thresholds")
    # The toy's pictures have nothing in common: the watches have much to say, worst first.
    times = [entry["times_limit"] for entry in first["worst"]]
    assert times == sorted(times, reverse=True)
    assert first["worst"] == rest["worst"]


def test_the_plan_stands_beside_what_was_shot(house: House) -> None:
    shot = house.shot()["id"]
    house.ok("PUT", f"/shots/{shot}/plan", json={"text": "wait 0.5 s\nlook 0.5 s"})
    house.press(shot, count=2)
    found = house.ok("GET", f"/shots/{shot}/report")["plan"]
    assert found["frame_count"] == 12
    assert found["frames_shot"] == 2
    assert found["says"] == "wait, frame 3 of 6"
    assert found["pace"]["exposures_left"] == 10


def test_an_empty_shot_has_a_report_and_a_missing_one_has_none(house: House) -> None:
    shot = house.shot()["id"]
    assert house.ok("GET", f"/shots/{shot}/report")["frames"] == []
    house.problem("GET", "/shots/none/report", 404, "not_found")
    assert house.client.get(f"/api/v1/shots/{shot}/report?first=0").status_code == 422
