"""Wait for a condition, not for a time."""

import threading
import time
from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")


def until(condition: Callable[[], T], timeout: float = 10.0, what: str = "") -> T:
    """The condition's first true value; fails when none comes within ``timeout`` seconds."""
    pause = threading.Event()
    end = time.monotonic() + timeout
    while True:
        value = condition()
        if value:
            return value
        if time.monotonic() > end:
            raise AssertionError(f"waited {timeout} s in vain {what}")
        pause.wait(0.005)
