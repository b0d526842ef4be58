"""`/mirror`: the second copy beside a service that shoots; a dead place costs no press."""

import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from standclear.library.mirror.address import Address, file_system, parse
from standclear.library.mirror.mirror import Mirror
from standclear.library.mirror.place import FolderPlace
from standclear.shooting.mirroring import Mirroring
from standclear.web.context import KEY, Context
from tests.api.conftest import House
from tests.mirror_kit import originals_under
from tests.waiting import until


class Gated(FolderPlace):
    """A place that hangs, as a network share does, until it is let go on."""

    def __init__(self, address: Address) -> None:
        super().__init__(address, self._hang)
        self.go_on = threading.Event()
        self.go_on.set()
        self.hanging = threading.Event()
        self.odd = False

    def _hang(self, address: Address) -> object:
        if self.odd:
            raise ValueError("hush-hush")
        if not self.go_on.is_set():
            self.hanging.set()
            self.go_on.wait(60)
        return file_system(address)


@pytest.fixture
def place(tmp_path: Path) -> Gated:
    (tmp_path / "copy").mkdir()
    return Gated(parse(str(tmp_path / "copy")))


@pytest.fixture
def mirrored(house: House, place: Gated) -> Iterator[House]:
    """The house, with a second copy."""
    mirror = Mirror(house.library, place, house.stage.clock)
    mirroring = Mirroring(
        mirror, house.stage.clock, house.stage.events, house.stage.shutter.wait_quiet
    )
    context = house.service.app.extensions[KEY]
    house.service.app.extensions[KEY] = Context(**{**vars(context), "mirroring": mirroring})
    mirroring.start()
    yield house
    place.go_on.set()
    mirroring.stop()


def in_step(house: House, copied: int) -> bool:
    state = house.ok("GET", "/mirror")
    return bool(state["state"] == "in_step" and state["copied_exposures"] == copied)


def test_without_a_second_copy_that_is_said(house: House) -> None:
    assert house.ok("GET", "/mirror") | {"says": ""} == {
        "where": None, "state": "off", "says": "", "waiting_exposures": 0, "waiting_bytes": 0,
        "lag_s": 0.0, "copied_exposures": 0, "last_copied_at": None, "caution": "",
    }  # fmt: skip
    house.problem("PUT", "/mirror", 409, "conflict", json={"paused": True})


def test_what_is_kept_is_copied_and_told(mirrored: House, tmp_path: Path) -> None:
    shot = mirrored.shot()["id"]
    heard, _ = mirrored.stage.events.resume(None)
    for _ in range(3):
        mirrored.press(shot)
    until(lambda: in_step(mirrored, 3), 20)
    state = mirrored.ok("GET", "/mirror")
    assert state["where"] == str(tmp_path / "copy")
    assert state["last_copied_at"].endswith("Z")
    assert originals_under(tmp_path / "copy") == originals_under(mirrored.library.folder)
    told = [e for e in mirrored.stage.events.after(heard, 0) if e.kind == "mirror"]
    assert told[-1].data["copied_exposures"] == 3


def test_a_place_that_hangs_never_slows_the_shutter(
    mirrored: House, place: Gated, tmp_path: Path
) -> None:
    shot = mirrored.shot()["id"]
    quick = [_timed(mirrored, shot) for _ in range(8)]
    until(lambda: in_step(mirrored, 8), 20)
    place.go_on.clear()
    place.leave()
    mirrored.ok("PUT", "/mirror", json={})
    until(place.hanging.is_set, 20)
    hung = [_timed(mirrored, shot) for _ in range(8)]
    state = mirrored.ok("GET", "/mirror")
    assert state["waiting_exposures"] == 8
    # The median, so that another program on this machine decides nothing.
    in_time, hanging = sorted(quick)[4], sorted(hung)[4]
    print(f"median press {in_time * 1000:.1f} ms in step, {hanging * 1000:.1f} ms while it hangs")
    assert hanging < 3 * in_time + 0.1
    place.go_on.set()
    until(lambda: in_step(mirrored, 16), 30)
    assert originals_under(tmp_path / "copy") == originals_under(mirrored.library.folder)


def _timed(house: House, shot: str) -> float:
    start = time.monotonic()
    house.press(shot)
    return time.monotonic() - start


def test_it_can_be_paused_and_goes_on(mirrored: House) -> None:
    shot = mirrored.shot()["id"]
    assert mirrored.ok("PUT", "/mirror", json={"paused": True})["state"] == "paused"
    mirrored.press(shot)
    assert mirrored.ok("GET", "/mirror")["waiting_exposures"] == 1
    mirrored.ok("PUT", "/mirror", json={"paused": False})
    until(lambda: in_step(mirrored, 1), 20)


def test_where_it_lies_cannot_be_said_from_a_phone(mirrored: House) -> None:
    mirrored.problem("PUT", "/mirror", 422, "invalid", json={"where": "/etc"})


def test_leaving_does_not_wait_for_a_place_that_hangs(mirrored: House, place: Gated) -> None:
    place.go_on.clear()
    place.leave()
    context = mirrored.service.app.extensions[KEY]
    mirrored.ok("PUT", "/mirror", json={})
    until(place.hanging.is_set, 20)
    start = time.monotonic()
    context.mirroring.stop()
    assert time.monotonic() - start < 10


def test_a_failure_that_nobody_foresaw_is_told_without_its_words_and_ends_nothing(
    mirrored: House, place: Gated, caplog: pytest.LogCaptureFixture
) -> None:
    shot = mirrored.shot()["id"]
    place.odd = True
    place.leave()
    mirrored.press(shot)
    until(lambda: mirrored.ok("GET", "/mirror")["state"] == "fault", 20)
    assert "hush" not in str(mirrored.ok("GET", "/mirror"))
    until(lambda: "ValueError" in caplog.text, 10)
    assert "hush" not in caplog.text
    place.odd = False
    mirrored.ok("PUT", "/mirror", json={})
    until(lambda: in_step(mirrored, 1), 20)
