"""The verdict comes after the exposure is kept, through the API and the event stream."""

from pathlib import Path
from typing import Any

import pytest
from tests.api.conftest import House
from tests.service import Api, ServiceProcess
from tests.waiting import until


def verdicts(api: Api, shot: str, count: int) -> list[Any]:
    """The first verdicts, once they are all there."""

    def ready() -> list[Any] | None:
        items = api.ok("GET", f"/shots/{shot}/exposures")["items"]
        found = [item["verdict"] for item in items]
        return found if len(found) == count and all(found) else None

    return until(ready, 60) or []


@pytest.mark.parametrize(
    ("orders", "watch", "cause", "at"),
    [
        ("seed=3,nudge=4", "rig", "bump", 4),
        ("seed=3,hand=4", "pose", "hand_left_in", 4),
    ],
)
def test_an_ordered_fault_is_told_at_the_exposure_in_which_it_happens(
    tmp_path: Path, orders: str, watch: str, cause: str, at: int
) -> None:
    with ServiceProcess(tmp_path / "library", f"rehearsal:{orders}") as service:
        api = service.api()
        api.wait_for_camera()
        shot = api.ok("POST", "/shots", json={"name": "cork wakes"})["id"]
        for number in range(1, at + 1):
            api.ok("POST", f"/shots/{shot}/exposures", json={})
            verdicts(api, shot, number)
        found = verdicts(api, shot, at)
        api.close()
    for verdict in found:
        assert set(verdict["watches"]) == {"light", "rig", "focus", "pose"}
        for one in verdict["watches"].values():
            assert one["state"] in ("clear", "flagged", "cannot_tell")
            assert one["says"]
    assert all(verdict["state"] == "clear" for verdict in found[: at - 1]), found[: at - 1]
    assert found[at - 1]["state"] == "flagged"
    assert cause in found[at - 1]["watches"][watch]["causes"]


def test_a_failing_watch_is_told_and_costs_no_picture(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    from standclear.shooting.watches.shot_watch import ShotWatch

    def fail(*_args: object, **_more: object) -> Any:
        raise ZeroDivisionError("a measurement went wrong")

    monkeypatch.setattr(ShotWatch, "examine_file", fail)
    shot = house.shot()["id"]
    item = house.press(shot)[0]
    verdict = until(lambda: house.ok("GET", f"/shots/{shot}/exposures/{item['id']}")["verdict"], 20)
    assert all(watch["state"] == "cannot_tell" for watch in verdict["watches"].values())
    assert "log" in verdict["watches"]["light"]["says"]


def test_an_accepted_change_is_the_new_reference(house: House) -> None:
    shot = house.shot()["id"]
    first, second = house.press(shot, count=2)
    assert house.stage.watches.reference(shot).id == first["id"]  # type: ignore[union-attr]
    house.ok("POST", f"/shots/{shot}/exposures/{second['id']}/accept")
    assert house.stage.watches.reference(shot).id == second["id"]  # type: ignore[union-attr]
    house.ok("DELETE", f"/shots/{shot}/exposures/{second['id']}")
    assert house.stage.watches.reference(shot).id == first["id"]  # type: ignore[union-attr]
