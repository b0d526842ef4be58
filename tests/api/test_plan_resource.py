"""The plan over the API: typed, edited, tied to what was shot, refused with a place."""

import subprocess
from pathlib import Path

import pytest

from tests.api.conftest import House

TEXT = "wait 1 s\ncreep 120 mm over 2 s, ease in\nlook up 0.5 s"


def test_a_typed_plan_is_counted_in_frames(house: House) -> None:
    shot = house.shot()["id"]
    plan = house.ok("PUT", f"/shots/{shot}/plan", json={"text": TEXT})
    # 12 pictures make one second at 12 fps: common practice, no source.
    assert [action["frames"] for action in plan["actions"]] == [12, 24, 6]
    assert plan["frame_count"] == 42
    assert plan["duration_s"] == 3.5
    assert plan["where"]["frame"] == 1
    assert plan["where"]["frames"] == 12


def test_it_says_where_the_shot_stands(house: House) -> None:
    shot = house.shot()["id"]
    house.ok("PUT", f"/shots/{shot}/plan", json={"text": TEXT})
    house.press(shot, count=12)
    where = house.ok("GET", f"/shots/{shot}/plan")["where"]
    assert where["label"].startswith("creep")
    assert (where["frame"], where["frames"]) == (1, 24)
    assert where["just_ended"] is not None
    assert where["frames_shot"] == 12


def test_what_was_shot_stays_tied_when_an_action_is_put_before_it(house: House) -> None:
    shot = house.shot()["id"]
    plan = house.ok("PUT", f"/shots/{shot}/plan", json={"text": TEXT})
    house.press(shot, count=12)
    first = {"label": "peek", "duration": {"value": 1, "unit": "s"}}
    edit = {"op": "insert", "new": first, "place": 0}
    after = house.ok("PUT", f"/shots/{shot}/plan", json={"edits": [edit]})
    assert [action["frames_shot"] for action in after["actions"]] == [0, 12, 0, 0]
    assert after["actions"][1]["id"] == plan["actions"][0]["id"]


def test_two_phones_at_once_get_412(house: House) -> None:
    shot = house.shot()["id"]
    house.ok("PUT", f"/shots/{shot}/plan", json={"text": "wait 1 s"})
    tag = house.client.get(f"/api/v1/shots/{shot}/plan").headers["ETag"]
    house.ok("PUT", f"/shots/{shot}/plan", json={"text": "wait 2 s"}, headers={"If-Match": tag})
    house.problem(
        "PUT",
        f"/shots/{shot}/plan",
        412,
        "changed_elsewhere",
        json={"text": "wait 3 s"},
        headers={"If-Match": tag},
    )
    assert house.ok("GET", f"/shots/{shot}/plan")["frame_count"] == 24


@pytest.mark.parametrize(
    "text",
    [
        "wait -1 s",
        "wait 0 s",
        "wait nan s",
        "wait 1000000000 s",
        "creep over",
        "wait 1 parsec",
        "🐾",
    ],
)
def test_what_cannot_be_read_is_pointed_at_and_changes_nothing(house: House, text: str) -> None:
    shot = house.shot()["id"]
    house.ok("PUT", f"/shots/{shot}/plan", json={"text": "wait 1 s"})
    body = house.problem(
        "PUT", f"/shots/{shot}/plan", 422, "plan_refused", json={"text": f"wait 1 s\n{text}"}
    )
    assert body["line"] == 2
    assert house.ok("GET", f"/shots/{shot}/plan")["frame_count"] == 12


def test_other_bad_plans_change_nothing(house: House) -> None:
    shot = house.shot()["id"]
    for body in ({}, {"text": "x", "csv": "y"}, {"csv": "no,such\ncolumns"}, {"actions": "all"}):
        response = house.client.put(f"/api/v1/shots/{shot}/plan", json=body)
        assert response.status_code == 422, body
    large = house.client.put(f"/api/v1/shots/{shot}/plan", json={"text": "wait 1 s\n" * 1_200_000})
    assert large.status_code == 413
    assert house.ok("GET", f"/shots/{shot}/plan")["actions"] == []


def test_csv_goes_out_and_comes_in(house: House) -> None:
    shot, other = house.shot()["id"], house.shot()["id"]
    plan = house.ok("PUT", f"/shots/{shot}/plan", json={"text": TEXT})
    text = house.client.get(f"/api/v1/shots/{shot}/plan.csv").text
    again = house.ok("PUT", f"/shots/{other}/plan", json={"csv": text})
    assert [one["frames"] for one in again["actions"]] == [one["frames"] for one in plan["actions"]]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_sheet_and_strips_are_printed(house: House, tmp_path: Path, paper: str) -> None:
    shot = house.shot(name="Korken zögert 🐾")["id"]
    house.ok("PUT", f"/shots/{shot}/plan", json={"text": TEXT})
    for name in ("sheet", "strips"):
        answer = house.client.get(f"/api/v1/shots/{shot}/{name}.pdf?paper={paper}")
        assert answer.status_code == 200, answer.text
        assert answer.mimetype == "application/pdf"
        (tmp_path / f"{name}.pdf").write_bytes(answer.data)
        # Read by an independent program: poppler's pdfinfo.
        done = subprocess.run(
            ["pdfinfo", str(tmp_path / f"{name}.pdf")], capture_output=True, text=True, check=True
        )
        assert "Pages:" in done.stdout
        assert ("A4" if paper == "A4" else "letter") in done.stdout


def test_strips_without_a_length_are_refused_with_a_sentence(house: House) -> None:
    shot = house.shot()["id"]
    house.ok("PUT", f"/shots/{shot}/plan", json={"text": "wait 1 s"})
    house.problem("GET", f"/shots/{shot}/strips.pdf", 422, "plan_refused")


def refused_rate(house: House, shot: str, rate: str) -> None:
    body = house.problem("PATCH", f"/shots/{shot}", 422, "invalid", json={"frame_rate": rate})
    assert "The plan does not fit" in body["errors"][0]["says"]
    assert body["errors"][0]["field"] == "frame_rate"


def test_a_frame_rate_that_the_plan_does_not_fit_is_refused_and_changes_nothing(
    house: House,
) -> None:
    shot = house.shot(frame_rate="24")["id"]
    house.ok("PUT", f"/shots/{shot}/plan", json={"text": "blink 1/24 s\nwait 1 s"})
    refused_rate(house, shot, "8")
    assert house.ok("GET", f"/shots/{shot}")["frame_rate"] == "24"
    assert house.ok("GET", f"/shots/{shot}/plan")["frame_count"] == 25
    house.ok("PATCH", f"/shots/{shot}", json={"frame_rate": "48"})
    assert [one["frames"] for one in house.ok("GET", f"/shots/{shot}/plan")["actions"]] == [2, 48]


def test_a_change_of_rate_is_not_taken_back_under_a_plan_that_needs_it(house: House) -> None:
    shot = house.shot(frame_rate="8")["id"]
    house.ok("PATCH", f"/shots/{shot}", json={"frame_rate": "24"})
    house.ok("PUT", f"/shots/{shot}/plan", json={"text": "blink 1/24 s"})
    body = house.problem("POST", f"/shots/{shot}/undo", 422, "invalid")
    assert "The plan does not fit 8 frames per second" in body["detail"]
    assert house.ok("GET", f"/shots/{shot}")["frame_rate"] == "24"
    house.ok("PUT", f"/shots/{shot}/plan", json={"text": "blink 1 s"})
    house.ok("POST", f"/shots/{shot}/undo")
    assert house.ok("GET", f"/shots/{shot}")["frame_rate"] == "8"


@pytest.mark.parametrize("rate", ["0", "1200001/100003", "0/5", "nan", "-12"])
def test_a_rate_that_no_plan_can_be_timed_by_is_refused(house: House, rate: str) -> None:
    house.problem("POST", "/shots", 422, "invalid", json={"name": "x", "frame_rate": rate})
    shot = house.shot()["id"]
    house.problem("PATCH", f"/shots/{shot}", 422, "invalid", json={"frame_rate": rate})
    assert house.ok("GET", f"/shots/{shot}/plan")["frame_rate"] == "12"
