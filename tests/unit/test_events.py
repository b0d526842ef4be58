"""Events arrive in order, resume where they were left, and say when some were missed."""

import threading

from standclear.shooting.events import KEPT_EVENTS, EventHub


def test_a_listener_gets_what_came_after_it_last_looked() -> None:
    hub = EventHub()
    first = hub.publish("kept", {"n": 1})
    hub.publish("kept", {"n": 2})
    assert [event.data["n"] for event in hub.after(first.number, 0)] == [2]


def test_a_waiting_listener_is_woken() -> None:
    hub = EventHub()
    got: list[str] = []
    thread = threading.Thread(target=lambda: got.extend(e.kind for e in hub.after(0, 10)))
    thread.start()
    hub.publish("exposing", {})
    thread.join(5)
    assert got == ["exposing"]


def test_a_listener_resumes_by_the_id_of_the_last_event() -> None:
    hub = EventHub()
    seen = hub.publish("kept", {})
    missed = hub.publish("kept", {})
    number, lost = hub.resume(seen.id)
    assert not lost
    assert [event.id for event in hub.after(number, 0)] == [missed.id]


def test_an_id_from_another_run_is_told_as_missed() -> None:
    hub = EventHub()
    hub.publish("kept", {})
    assert hub.resume("deadbeef-1") == (1, True)
    assert hub.resume("nonsense") == (1, True)


def test_an_id_older_than_the_ring_is_told_as_missed() -> None:
    hub = EventHub()
    first = hub.publish("kept", {})
    for _ in range(KEPT_EVENTS + 5):
        hub.publish("kept", {})
    assert hub.resume(first.id)[1]


def test_closing_lets_everybody_go() -> None:
    hub = EventHub()
    thread = threading.Thread(target=lambda: hub.after(0, 60))
    thread.start()
    hub.close()
    thread.join(5)
    assert not thread.is_alive()
