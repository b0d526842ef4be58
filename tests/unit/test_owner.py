"""Promise 4: one owner; a camera that is away or hung is told within 3 s and blocks nobody."""

import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest

from standclear.cameras.base import (
    Camera,
    CameraAway,
    CameraHung,
    Capabilities,
    Identity,
    LivePicture,
    Original,
    Taken,
)
from standclear.clock import SystemClock
from standclear.shooting.live import LiveHub
from standclear.shooting.owner import CameraOwner, CameraState
from tests.waiting import until


class Toy(Camera):
    """A camera that can be unplugged and hung; it notes which threads called it."""

    kind = "toy"

    def __init__(self) -> None:
        self.plugged = True
        self.hanging = threading.Event()
        self.hanging.set()  # set: it does not hang
        self.threads: set[int] = set()
        self.captures = 0
        self.closed = 0

    @property
    def identity(self) -> Identity:
        return Identity("toy", "toy", "Toy camera")

    @property
    def capabilities(self) -> Capabilities:
        return Capabilities(live_picture=True, settings=False)

    def open(self) -> None:
        self._called()

    def close(self) -> None:
        self.closed += 1

    def capture(self) -> Taken:
        self._called()
        self.captures += 1
        self.hanging.wait(30)
        original = Original(b"x%d" % self.captures, "image/jpeg", "jpg", 1, 1)
        return Taken((original,), datetime.now(UTC), {})

    def live(self) -> LivePicture:
        self._called()
        return LivePicture(at=time.monotonic(), jpeg=b"")

    def alive(self) -> None:
        self._called()

    def _called(self) -> None:
        self.threads.add(threading.get_ident())
        if not self.plugged:
            raise CameraAway("The cable is out.")


class Bench:
    def __init__(self) -> None:
        self.camera = Toy()
        self.live = LiveHub()
        self.told: list[CameraState] = []
        self.owner = CameraOwner(
            self.camera, clock=SystemClock(), live=self.live, on_change=self.told.append
        )
        self.owner.start()


@pytest.fixture
def bench() -> Iterator[Bench]:
    bench = Bench()
    until(lambda: bench.owner.state().state == "ready")
    yield bench
    bench.camera.hanging.set()
    assert bench.owner.stop()


def nothing(_expected: float) -> None:
    pass


def test_one_thread_calls_the_camera_whoever_asks(bench: Bench) -> None:
    askers = [threading.Thread(target=lambda: bench.owner.capture(nothing)) for _ in range(8)]
    for asker in askers:
        asker.start()
    for asker in askers:
        asker.join(5)
    assert bench.camera.captures == 8
    assert len(bench.camera.threads) == 1


def test_live_pictures_are_fetched_only_while_somebody_looks(bench: Bench) -> None:
    with bench.live.watching():
        bench.owner.poke()
        assert bench.live.newer_than(0, 5) is not None
    until(lambda: not bench.live.watched)


def test_an_unplugged_camera_is_told_within_3_s_and_taken_up_again(bench: Bench) -> None:
    start = time.monotonic()
    bench.camera.plugged = False
    until(lambda: any(state.state == "away" for state in bench.told), 5)
    assert time.monotonic() - start < 3
    assert bench.owner.state().says == "The cable is out."
    with pytest.raises(CameraAway):
        bench.owner.capture(nothing)
    bench.camera.plugged = True
    until(lambda: bench.owner.state().state == "ready", 5)
    bench.owner.capture(nothing)


def test_a_hung_camera_is_told_within_3_s_and_blocks_nobody(bench: Bench) -> None:
    bench.camera.hanging.clear()
    start = time.monotonic()
    with pytest.raises(CameraHung):
        bench.owner.capture(nothing)
    assert time.monotonic() - start < 3.2
    assert any(state.state == "hung" for state in bench.told)
    start = time.monotonic()
    with pytest.raises(CameraHung):
        bench.owner.capture(nothing)
    assert bench.owner.state().state == "hung"
    assert time.monotonic() - start < 0.2
    bench.camera.hanging.set()
    until(lambda: bench.owner.state().state == "ready", 5)


def test_a_picture_that_comes_late_is_handed_over_and_none_is_fired_later(bench: Bench) -> None:
    late: list[Taken] = []
    bench.camera.hanging.clear()
    with pytest.raises(CameraHung):
        bench.owner.capture(nothing, late.append)
    assert late == []
    bench.camera.hanging.set()
    until(lambda: late)
    until(lambda: bench.owner.state().state == "ready")
    assert bench.camera.captures == 1


def test_a_slow_camera_that_shows_signs_of_life_is_not_called_hung(bench: Bench) -> None:
    def slow(camera: Camera) -> str:
        for _ in range(7):
            threading.Event().wait(0.5)
            camera.beat()
        return "done"

    assert bench.owner.call(slow) == "done"
    assert not any(state.state == "hung" for state in bench.told)


def test_opening_and_stopping_fifty_times_leaves_no_thread() -> None:
    before = threading.active_count()
    for _ in range(50):
        bench = Bench()
        assert bench.owner.stop()
        assert bench.camera.closed >= 1
    until(lambda: threading.active_count() <= before)
