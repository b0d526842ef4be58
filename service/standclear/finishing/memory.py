"""What a film took is given back to the system, so that the service does not swell film by film.

The C library keeps what threads have freed, for each of them; an encoder alone has a dozen.
"""

import ctypes
import sys


def give_back() -> None:
    """Return freed memory to the system where the C library can be told to (malloc_trim(3))."""
    if sys.platform != "linux":
        return
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
    if trim is not None:  # musl has none, and needs none
        trim(0)
