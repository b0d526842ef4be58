"""What pictures took of the computer's memory goes back to it.

The C library keeps a pool of memory for each of many threads, and what one pool has free helps no
other: a service of sixty threads that handle pictures of megabytes would hold twice what it uses.
"""

import ctypes
import sys
from collections.abc import Callable

_M_ARENA_MAX = -8  # malloc.h of the GNU C library
_POOLS = 2


def share_pools() -> None:
    """Let all threads share a few pools (mallopt(3), M_ARENA_MAX). Call before threads begin."""
    few = _of_the_c_library("mallopt")
    if few is not None:
        few(_M_ARENA_MAX, _POOLS)


def give_back() -> None:
    """Return freed memory to the system (malloc_trim(3)): after a film, whose encoder alone has a
    dozen threads."""
    trim = _of_the_c_library("malloc_trim")
    if trim is not None:
        trim(0)


def _of_the_c_library(name: str) -> Callable[..., int] | None:
    """The function where there is one: musl has neither, and needs neither."""
    return getattr(ctypes.CDLL(None), name, None) if sys.platform == "linux" else None
