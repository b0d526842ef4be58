"""What pictures took of the computer's memory goes back to it.

The C library keeps a pool of memory for each of many threads, and what one pool has free helps no
other. It also learns from each large piece that is freed to keep the next of that size in a pool,
where pictures of many sizes leave holes. A service of sixty threads would hold twice what it uses,
and more film by film.
"""

import ctypes
import sys
from collections.abc import Callable

_M_ARENA_MAX, _M_MMAP_THRESHOLD = -8, -3  # malloc.h of the GNU C library
_POOLS = 2
# In bytes. A still camera's JPEG (8 MB at 24 megapixels) comes from the pools: memory fresh from
# the system costs a press 25 ms. A film's picture in floats (25 MB at 1920×1080) does not.
_LARGE = 16 * 2**20


def hold_little() -> None:
    """Let all threads share a few pools, and give back what is large as soon as it is freed
    (mallopt(3)). Call before threads begin."""
    choose = _of_the_c_library("mallopt")
    if choose is not None:
        choose(_M_ARENA_MAX, _POOLS)
        choose(_M_MMAP_THRESHOLD, _LARGE)


def give_back() -> None:
    """Return freed memory to the system (malloc_trim(3)): after a film, whose encoder alone has a
    dozen threads."""
    trim = _of_the_c_library("malloc_trim")
    if trim is not None:
        trim(0)


def _of_the_c_library(name: str) -> Callable[..., int] | None:
    """The function where there is one: musl has neither, and needs neither."""
    return getattr(ctypes.CDLL(None), name, None) if sys.platform == "linux" else None
