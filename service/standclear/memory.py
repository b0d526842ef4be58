"""What pictures took of the computer's memory goes back to it.

The C library keeps a pool of memory for each of many threads, and what one pool has free helps no
other: a service of sixty threads would hold twice what it uses, and more film by film. How much a
pool keeps at hand it learns from what was freed: until a picture of 24 megapixels has been looked
at, it returns each press's file to the system and asks for it again, page by page.
"""

import ctypes
import sys
from collections.abc import Callable

# malloc.h of the GNU C library
_M_TRIM_THRESHOLD, _M_MMAP_THRESHOLD, _M_ARENA_MAX = -1, -3, -8
_POOLS = 1  # given back whole; of further ones malloc_trim leaves what is free at the end
# In bytes; the most that the C library would learn by itself. With half as much a press took 2300
# to 4800 pages new from the system, and 5 ms of 36 longer.
_LARGE, _AT_HAND = 32 * 2**20, 64 * 2**20


def hold_little() -> None:
    """Let all threads share one pool, which keeps a picture's memory at hand for the next
    (mallopt(3)). Call before threads begin."""
    choose = _of_the_c_library("mallopt")
    if choose is not None:
        choose(_M_ARENA_MAX, _POOLS)
        choose(_M_MMAP_THRESHOLD, _LARGE)
        choose(_M_TRIM_THRESHOLD, _AT_HAND)


def give_back() -> None:
    """Return freed memory to the system (malloc_trim(3)): after a film, whose encoder alone has a
    dozen threads."""
    trim = _of_the_c_library("malloc_trim")
    if trim is not None:
        trim(0)


def _of_the_c_library(name: str) -> Callable[..., int] | None:
    """The function where there is one: musl has neither, and needs neither."""
    return getattr(ctypes.CDLL(None), name, None) if sys.platform == "linux" else None
