"""A thread that notices when this computer's addresses change: a cable pulled, another network."""

import threading
from collections.abc import Callable, Sequence

LOOK_EVERY_S = 2.0


class AddressWatch:
    """Calls ``tell`` with the addresses at once, and again after each change."""

    def __init__(
        self,
        read: Callable[[], Sequence[str]],
        tell: Callable[[Sequence[str], bool], None],
        *,
        every_s: float = LOOK_EVERY_S,
    ) -> None:
        """``tell`` gets the addresses, best first, and whether this is a change (not the start)."""
        self._read = read
        self._tell = tell
        self._every_s = every_s
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, name="addresses", daemon=True)

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def stop(self, timeout: float = 2.0) -> None:
        """Look no more."""
        self._ended.set()
        self._thread.join(timeout)

    def _run(self) -> None:
        known: Sequence[str] = list(self._read())
        self._tell(known, False)
        while not self._ended.wait(self._every_s):
            now = list(self._read())
            if now != known:
                known = now
                self._tell(known, True)
