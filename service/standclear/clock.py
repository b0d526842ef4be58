"""Time, passed in wherever it is needed so that tests can set it."""

import time
from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    """Two clocks: one to write down, one to measure with."""

    def now(self) -> datetime:
        """The time of day, in UTC. It may jump (network time, a hand on the clock)."""
        ...

    def monotonic(self) -> float:
        """Seconds that never run backwards, from an arbitrary start."""
        ...


class SystemClock:
    """The clocks of this machine."""

    def now(self) -> datetime:
        """The time of day, in UTC."""
        return datetime.now(UTC)

    def monotonic(self) -> float:
        """Seconds that never run backwards, from an arbitrary start."""
        return time.monotonic()
