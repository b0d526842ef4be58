"""One thread hands each live picture to all who wait: whole, newest only, and nobody waits for a
slow one."""

import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack

import numpy as np
import pytest

from standclear.cameras.base import LivePicture
from standclear.shooting.live import LiveFrame, LiveHub
from standclear.web.postman import Postman, Viewer, WholeSends
from tests.waiting import until

SIZE = 400_000
PONG = b"\x8a\x00"


def message(frame: LiveFrame, width: int | None) -> bytes:
    """Longer than any socket buffer here; tells its number in each byte."""
    return bytes([frame.seq]) * SIZE


class Line:
    """A viewer with small buffers, and the other end of its line."""

    def __init__(self, postman: Postman) -> None:
        self._ours, self.far = socket.socketpair()
        self._ours.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, 8192)
        self.far.settimeout(10)
        self.sock = WholeSends(self._ours)
        self.viewer = Viewer(self.sock)
        self.postman = postman

    def ask(self) -> None:
        self.postman.ask(self.viewer)

    def ask_in_its_own_thread(self) -> None:
        """As the service does: what lies ready is sent from here, for as long as that takes."""
        threading.Thread(target=self.ask, daemon=True).start()

    def close(self) -> None:
        self.far.close()
        self._ours.close()

    def read(self, size: int = SIZE) -> bytes:
        data = bytearray()
        while len(data) < size:
            data += self.far.recv(min(65536, size - len(data)))
        return bytes(data)


Lines = Callable[[], Line]


@pytest.fixture
def hub() -> Iterator[LiveHub]:
    hub = LiveHub()
    yield hub
    hub.close()


@pytest.fixture
def a_line(hub: LiveHub) -> Iterator[Lines]:
    """Makes viewers of one postman."""
    postman = Postman(hub, message, 8)
    with ExitStack() as open_lines:

        def make() -> Line:
            line = Line(postman)
            open_lines.callback(line.close)
            return line

        yield make


def publish(hub: LiveHub) -> None:
    hub.publish(LivePicture(time.monotonic(), pixels=np.zeros((4, 4, 3), np.uint8)))


def test_each_who_waits_gets_the_next_picture_whole(hub: LiveHub, a_line: Lines) -> None:
    lines = [a_line() for _ in range(4)]
    for line in lines:
        line.ask()
    publish(hub)
    assert [line.read() for line in lines] == [b"\x01" * SIZE] * 4


def test_a_viewer_that_reads_nothing_delays_nobody_and_misses_no_byte(
    hub: LiveHub, a_line: Lines
) -> None:
    slow, quick = a_line(), a_line()
    slow.ask()
    for number in range(1, 6):
        quick.ask()
        publish(hub)
        assert quick.read() == bytes([number]) * SIZE
    assert slow.read() == b"\x01" * SIZE
    slow.ask_in_its_own_thread()
    assert slow.read() == b"\x05" * SIZE  # the newest, not what it missed


def test_a_pong_never_falls_into_a_picture(hub: LiveHub, a_line: Lines) -> None:
    line = a_line()
    line.ask()
    publish(hub)
    begun = line.read(1000)  # the rest is on its way
    pong = threading.Thread(target=line.sock.send, args=(PONG,))
    pong.start()
    assert begun + line.read(SIZE - 1000) == b"\x01" * SIZE
    assert line.read(len(PONG)) == PONG
    pong.join(10)


def test_who_has_the_newest_waits_for_a_newer_one_and_who_left_gets_none(
    hub: LiveHub, a_line: Lines
) -> None:
    stays, leaves = a_line(), a_line()
    publish(hub)
    for line in (stays, leaves):
        line.ask_in_its_own_thread()
        assert line.read() == b"\x01" * SIZE
        line.ask()
    leaves.postman.forget(leaves.viewer)
    publish(hub)
    assert stays.read() == b"\x02" * SIZE
    leaves.far.settimeout(0.05)
    with pytest.raises(TimeoutError):
        leaves.far.recv(1)


def test_a_line_that_broke_is_no_fault(hub: LiveHub, a_line: Lines) -> None:
    gone, stays = a_line(), a_line()
    gone.far.close()
    gone.ask()
    stays.ask()
    publish(hub)
    assert stays.read() == b"\x01" * SIZE
    stays.ask()
    publish(hub)
    assert stays.read() == b"\x02" * SIZE


def test_the_thread_ends_with_the_hub(hub: LiveHub, a_line: Lines) -> None:
    a_line().ask()
    named = [thread for thread in threading.enumerate() if thread.name == "postman"]
    hub.close()
    until(lambda: not any(thread.is_alive() for thread in named), 10)
    assert named
