"""The clock set back an hour in the middle of a day: nothing lost, doubled, reordered or locked."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from standclear.clock import SystemClock
from standclear.library.check import check
from standclear.library.recover import recover
from tests.api.conftest import House
from tests.library_kit import SetClock, keep, opened, order, texts

HOUR = timedelta(hours=1)


def set_back(monkeypatch: pytest.MonkeyPatch) -> None:
    """The hands of the clock; what measures seconds goes on."""
    monkeypatch.setattr(SystemClock, "now", lambda _: datetime.now(UTC) - HOUR)


def test_presses_go_on_in_order_and_a_repeat_gets_the_first_answer(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    shot = house.shot()["id"]
    key = {"Idempotency-Key": "cork-1"}
    first = house.press(shot, headers=key)
    house.press(shot)
    set_back(monkeypatch)
    assert house.press(shot, headers=key) == first, "a repeat of a lost reply, after the jump"
    house.press(shot)
    assert house.press(shot, headers={"Idempotency-Key": "cork-2"})[0]["number"] == 4
    items = house.ok("GET", f"/shots/{shot}/exposures")["items"]
    assert [one["number"] for one in items] == [1, 2, 3, 4]
    assert [one["originals"][0]["name"][-8:] for one in items] == [
        "0001.jpg", "0002.jpg", "0003.jpg", "0004.jpg",
    ]  # fmt: skip
    house.ok("POST", f"/shots/{shot}/undo")
    house.ok("POST", f"/shots/{shot}/redo")
    assert house.ok("GET", f"/shots/{shot}")["exposure_count"] == 4
    assert house.ok("GET", "/camera")["state"] == "ready"


@pytest.mark.parametrize("lost", ["nothing", "the database", "database and journal"])
def test_the_order_of_shooting_stays_also_after_recovery(tmp_path: Path, lost: str) -> None:
    clock = SetClock()
    with opened(tmp_path, clock=clock) as library:
        shot = library.create_shot("Cork").id
        for text in ("a", "b", "c"):
            keep(library, shot, text)
            clock.advance(seconds=20)
        clock.advance(hours=-1)
        for text in ("d", "e"):
            keep(library, shot, text)
            clock.advance(seconds=20)
        library.change_exposure(shot, order(library, shot)[4], hold=3)
    if lost != "nothing":
        (tmp_path / "library.db").unlink()
        if lost == "database and journal":
            next((tmp_path / "shots").glob("*/shot.jsonl")).unlink()
        recover(tmp_path, clock)
    with opened(tmp_path, clock=clock) as library:
        shot = library.shots().items[0].id
        assert texts(library, shot) == ["a", "b", "c", "d", "e"]
        if lost != "database and journal":
            assert library.exposures(shot).items[4].hold == 3
        keep(library, shot, "f")
        assert texts(library, shot)[-1] == "f"
    assert check(tmp_path).well


def test_who_was_let_in_stays_in(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    house.gate._known.clear()
    set_back(monkeypatch)
    house.ok("GET", "/shots")
