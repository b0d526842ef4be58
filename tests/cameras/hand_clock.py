"""A clock that goes only when told to, for drivers that wait for the time."""

from datetime import UTC, datetime, timedelta


class HandClock:
    """Waiting moves it on at once."""

    def __init__(self) -> None:
        self.time = 1000.0

    def now(self) -> datetime:
        return datetime(2025, 1, 1, tzinfo=UTC) + timedelta(seconds=self.time)

    def monotonic(self) -> float:
        return self.time

    def wait(self, seconds: float) -> None:
        self.time += seconds
