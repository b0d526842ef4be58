"""What a film took goes back to the system."""

import sys
import threading

import numpy as np
import pytest

from standclear.finishing.memory import give_back
from tests.resident import forget_peak

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="reads Linux's own account")

PIECE = 64 * 1024  # bytes; below what the C library maps by itself
MIB = 2**20


def mostly_freed(count: int) -> list[np.ndarray]:
    """Take so many pieces in a thread of its own, and free all but each hundredth."""
    kept: list[np.ndarray] = []

    def take() -> None:
        pieces = [np.ones(PIECE, np.uint8) for _ in range(count)]
        kept.extend(pieces[::100])
        del pieces

    thread = threading.Thread(target=take)
    thread.start()
    thread.join()
    return kept


def test_freed_memory_is_given_back() -> None:
    start = forget_peak()
    kept = mostly_freed(200 * MIB // PIECE)
    freed = forget_peak() - start
    give_back()
    left = forget_peak() - start
    assert kept
    assert freed > 50, "the C library kept it"
    assert left < freed / 2
