"""What happened on the set, in order, for whoever listens.

A ring of the latest events and one condition. A listener holds nothing but the number of the last
event it has seen, so a slow or dead listener costs nothing and can delay nobody. Numbers carry the
service run they belong to, so that an id from before a restart is recognised.
"""

import secrets
import threading
from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

KEPT_EVENTS = 2000


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened. ``id`` is what ``Last-Event-ID`` carries back."""

    number: int
    id: str
    kind: str
    data: Mapping[str, Any]


class EventHub:
    """Publishes events and lets any number of listeners follow them."""

    def __init__(self) -> None:
        self._run = secrets.token_hex(4)
        self._ring: deque[Event] = deque(maxlen=KEPT_EVENTS)
        self._condition = threading.Condition()
        self._closed = False
        self._last = 0

    @property
    def closed(self) -> bool:
        """True once the service is stopping."""
        return self._closed

    def publish(self, kind: str, data: Mapping[str, Any]) -> Event:
        """Append an event and wake every listener."""
        with self._condition:
            self._last += 1
            event = Event(self._last, f"{self._run}-{self._last}", kind, data)
            self._ring.append(event)
            self._condition.notify_all()
        return event

    def resume(self, last_event_id: str | None) -> tuple[int, bool]:
        """The number to listen from, and whether events were missed for good.

        Without an id a listener starts at the present. With one it goes on from there, if the ring
        still reaches back that far and the id is from this run of the service.
        """
        with self._condition:
            if not last_event_id:
                return self._last, False
            run, _, number = last_event_id.partition("-")
            if run != self._run or not number.isdecimal() or int(number) > self._last:
                return self._last, True
            oldest = self._ring[0].number if self._ring else self._last + 1
            if int(number) + 1 < oldest:
                return self._last, True
            return int(number), False

    def after(self, number: int, timeout: float) -> Sequence[Event]:
        """Events newer than ``number``; waits for one at most ``timeout`` seconds.

        Empty when none came, or when the hub is closed. A listener that fell further behind than
        the ring reaches gets what is left and can tell from the gap in the numbers.
        """
        with self._condition:
            self._condition.wait_for(lambda: self._last > number or self._closed, timeout)
            newest_first = []
            for event in reversed(self._ring):
                if event.number <= number:
                    break
                newest_first.append(event)
        return newest_first[::-1]

    def close(self) -> None:
        """Let every listener go."""
        with self._condition:
            self._closed = True
            self._condition.notify_all()
