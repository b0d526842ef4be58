"""Dark on exposure: the shutter waits, briefly, until every connected screen says it is black.

A glowing phone is a light on the set. A screen that does not answer in time (asleep, out of reach)
is not waited for again until it has answered once more, so it can slow one picture, not a day's.
"""

import threading
from collections.abc import Iterator
from contextlib import contextmanager

DARK_WITHIN_S = 0.15


class DarkRoom:
    """Who is connected, and who has gone black for the present press."""

    def __init__(self) -> None:
        self._condition = threading.Condition()
        self._screens: dict[str, int] = {}
        self._silent: set[str] = set()
        self._dark: set[str] = set()
        self._press = ""

    @contextmanager
    def connected(self, screen: str) -> Iterator[None]:
        """Counts the screen as connected while entered (twice, if it is connected twice)."""
        with self._condition:
            self._screens[screen] = self._screens.get(screen, 0) + 1
            self._silent.discard(screen)
        try:
            yield
        finally:
            with self._condition:
                self._screens[screen] -= 1
                if not self._screens[screen]:
                    del self._screens[screen]
                    self._silent.discard(screen)
                self._condition.notify_all()

    def begin(self, press: str) -> None:
        """A press begins: nobody is dark for it yet. Call before the screens are told."""
        with self._condition:
            self._press = press
            self._dark.clear()

    def is_dark(self, screen: str, press: str) -> bool:
        """A screen says that it is black for this press; False if that is not the present one."""
        with self._condition:
            self._silent.discard(screen)
            if press != self._press:
                return False
            self._dark.add(screen)
            self._condition.notify_all()
            return True

    def wait(self, timeout: float = DARK_WITHIN_S) -> bool:
        """Wait until all connected screens are black; False when some did not say so in time."""
        with self._condition:
            everyone = self._condition.wait_for(lambda: not self._waited_for(), timeout)
            self._silent |= self._waited_for()
            return everyone

    def _waited_for(self) -> set[str]:
        return set(self._screens) - self._silent - self._dark
