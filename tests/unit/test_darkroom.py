"""Promise 6: the shutter waits for every connected screen to be black, but not for a dead one."""

import threading
import time

from standclear.shooting.darkroom import DarkRoom


def test_without_screens_nothing_is_waited_for() -> None:
    room = DarkRoom()
    room.begin("p1")
    start = time.monotonic()
    assert room.wait(5)
    assert time.monotonic() - start < 0.5


def test_it_waits_for_the_last_screen() -> None:
    room = DarkRoom()
    with room.connected("a"), room.connected("b"):
        room.begin("p1")
        assert room.is_dark("a", "p1")
        assert not room.wait(0.02)
        room.begin("p2")
        threading.Timer(0.02, lambda: room.is_dark("a", "p2")).start()
        assert room.wait(5)  # b did not answer last time and is not waited for again


def test_a_screen_that_answers_again_is_waited_for_again() -> None:
    room = DarkRoom()
    with room.connected("a"):
        room.begin("p1")
        assert not room.wait(0.01)
        room.is_dark("a", "p1")
        room.begin("p2")
        assert not room.wait(0.01)


def test_a_word_for_another_press_does_not_count() -> None:
    room = DarkRoom()
    with room.connected("a"):
        room.begin("p2")
        assert not room.is_dark("a", "p1")
        assert not room.wait(0.01)


def test_a_screen_that_leaves_is_not_waited_for() -> None:
    room = DarkRoom()
    with room.connected("a"):
        room.begin("p1")
    assert room.wait(5)
