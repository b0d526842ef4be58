"""Pictures in film order, a few ahead of the encoder, never more: memory does not grow.

A picture that cannot be read is stood in for by the one before it (the one after it at the start),
and the film's report says so.
"""

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from threading import Event, Lock
from typing import Protocol, TypeVar

from standclear.finishing.develop import Pixels
from standclear.finishing.problems import CannotExport, ExportCancelled, PictureUnreadable
from standclear.finishing.sequence import Run

T = TypeVar("T")
_AHEAD = 1
WORKERS = 2
_PAUSE_S = 0.1


class Attendance(Protocol):
    """Whether the work may go on."""

    def check(self) -> None:
        """Return when it may; raise ExportCancelled when it shall not."""
        ...


@dataclass
class Patience:
    """Yields to the set: waits while ``may_run`` says no, ends when ``cancelled`` says so."""

    cancelled: Callable[[], bool] = lambda: False
    may_run: Callable[[], bool] = lambda: True
    _nothing: Event = field(default_factory=Event, repr=False)

    def check(self) -> None:
        """Return when the work may go on; raises ExportCancelled."""
        while not self.cancelled():
            if self.may_run():
                return
            self._nothing.wait(_PAUSE_S)
        raise ExportCancelled("The export was cancelled; no file was left behind.")


class StandIns:
    """Makes pictures by exposure index, standing in for those that cannot be read."""

    def __init__(self, make: Callable[[int], Pixels], indices: Sequence[int]) -> None:
        self._make = make
        self._indices = sorted(set(indices))
        self._bad: dict[int, str] = {}
        self._lock = Lock()

    @property
    def notes(self) -> tuple[str, ...]:
        """One sentence for each picture that was stood in for, in shot order."""
        with self._lock:
            return tuple(self._bad[index] for index in sorted(self._bad))

    def picture(self, index: int) -> Pixels:
        """The picture of exposure ``index`` or of its nearest readable neighbour, before first."""
        before = [other for other in reversed(self._indices) if other <= index]
        after = [other for other in self._indices if other > index]
        for candidate in before + after:
            if candidate in self._bad:
                continue
            try:
                return self._make(candidate)
            except PictureUnreadable as error:
                self._note(candidate, error.detail)
        raise CannotExport("None of the pictures can be read: " + " ".join(self.notes[:3]))

    def _note(self, index: int, detail: str) -> None:
        with self._lock:
            self._bad[index] = f"Exposure {index + 1}: {detail} Its neighbour is shown instead."


def in_film_order(
    runs: Sequence[Run], make: Callable[[int], T], patience: Attendance, workers: int = WORKERS
) -> Iterator[tuple[Run, T]]:
    """Each run with what ``make`` gives for its exposure, made ahead by a few workers."""
    waiting: deque[tuple[Run, Future[T]]] = deque()
    with ThreadPoolExecutor(workers, thread_name_prefix="finishing") as pool:
        try:
            for run in runs:
                patience.check()
                waiting.append((run, pool.submit(make, run.exposure)))
                if len(waiting) > workers + _AHEAD:
                    yield _ready(waiting)
            while waiting:
                patience.check()
                yield _ready(waiting)
        finally:
            for _, future in waiting:
                future.cancel()


def _ready(waiting: deque[tuple[Run, Future[T]]]) -> tuple[Run, T]:
    run, future = waiting.popleft()
    return run, future.result()
