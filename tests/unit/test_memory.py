"""What pictures took goes back to the system."""

import subprocess
import sys
import threading

import numpy as np
import pytest

from standclear.memory import give_back
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


BEGIN = """
import ctypes, sys, threading
import numpy as np
from standclear import memory
if "little" in sys.argv:
    memory.hold_little()
"""

ALL_AT_ONCE = """
at_once = threading.Barrier(16)
def take():
    at_once.wait()
    taken = ctypes.create_string_buffer(4096)
    at_once.wait()
threads = [threading.Thread(target=take) for _ in range(16)]
[one.start() for one in threads]
[one.join() for one in threads]
ctypes.CDLL(None).malloc_stats()
"""

# A file as it is in the camera's hands and in ours, once a press.
PRESSES = """
import resource
def press():
    return [np.ones(8 * 2**20, np.uint8) for _ in range(2)]
def faults():
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt
press(), press()
before = faults()
for _ in range(10):
    press()
print((faults() - before) / 10)
"""


def child(work: str, *words: str) -> subprocess.CompletedProcess[str]:
    """The work in a process of its own, whose C library has learnt nothing yet."""
    command = [sys.executable, "-c", BEGIN + work, *words]
    return subprocess.run(command, capture_output=True, text=True, check=True)


def pools_of_16_threads(*words: str) -> int:
    """How many pools the C library made; malloc_stats(3) lists them."""
    told = child(ALL_AT_ONCE, *words).stderr
    return sum(line.startswith("Arena ") for line in told.splitlines())


def pages_new_at_a_press(*words: str) -> float:
    """How many pages of 4 KiB the system gives at each of ten presses."""
    return float(child(PRESSES, *words).stdout)


def test_all_threads_share_one_pool() -> None:
    assert pools_of_16_threads() > 4, "the C library shares by itself"
    assert pools_of_16_threads("little") == 1


def test_a_press_finds_the_memory_of_the_last() -> None:
    assert pages_new_at_a_press() > 500, "the C library keeps it by itself"
    assert pages_new_at_a_press("little") < 50
