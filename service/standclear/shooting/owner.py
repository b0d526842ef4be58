"""The one owner of the camera: a thread through which everything else asks.

Theory of operation. The thread holds a driver and does one thing at a time: open it, do the next
job, fetch a live picture if anybody looks, or check that it is still there. Others hand in a job
and wait for it no longer than the camera deserves: each driver call has a limit, and a call that
overruns it makes the camera *hung* for everybody else, while the thread goes on waiting for it.
A job that was not begun when its caller gave up is never done; one that was begun is handed to
``late`` when it ends after all.

    away → opening → ready ⇄ exposing
      ↖───────┴────────┴────────┘      any call that raises CameraAway
    hung: seen from outside whenever a call overruns its limit; ends when the call returns
"""

import logging
import queue
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, Future
from concurrent.futures import TimeoutError as FutureTimeout
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Generic, Literal, TypeVar

from standclear.cameras.base import (
    Camera,
    CameraAway,
    CameraHung,
    Capabilities,
    CaptureFailed,
    Identity,
    Taken,
)
from standclear.clock import Clock
from standclear.errors import StandclearError
from standclear.shooting.live import LiveHub

log = logging.getLogger(__name__)

T = TypeVar("T")

State = Literal["opening", "ready", "exposing", "away", "hung"]

PATIENCE_S = 2.5  # a silent call is called hung after this; told within 3 s with the watch's tick
RETRY_S = 1.0
CHECK_S = 1.0
WATCH_S = 0.2

_SAYS: dict[State, str] = {
    "opening": "The camera is being taken up.",
    "ready": "The camera is ready.",
    "exposing": "The shutter is open.",
    "hung": "The camera does not answer. Switch it off and on; it is taken up again by itself.",
}


@dataclass(frozen=True, slots=True)
class CameraState:
    """What the owner knows of the camera. ``since`` is when the state began (UTC)."""

    identity: Identity
    state: State
    says: str
    since: datetime
    capabilities: Capabilities | None


class _Job(Generic[T]):
    def __init__(self, work: Callable[[Camera], T], late: Callable[[T], None] | None) -> None:
        self.work = work
        self.late = late
        self.future: Future[T] = Future()
        self.given_up = False


class CameraOwner:
    """Owns one camera from :meth:`start` to :meth:`stop`."""

    def __init__(
        self,
        camera: Camera,
        *,
        clock: Clock,
        live: LiveHub,
        on_change: Callable[[CameraState], None],
    ) -> None:
        self._camera = camera
        self._clock = clock
        self._live = live
        self._on_change = on_change
        self._jobs: queue.Queue[_Job[Any] | None] = queue.Queue()
        self._lock = threading.Lock()
        self._stopping = threading.Event()
        self._open = False
        self._state: State = "opening"
        self._says = _SAYS["opening"]
        self._since = clock.now()
        self._capabilities: Capabilities | None = None
        self._silent_until = float("inf")
        self._told: tuple[State, str] | None = None
        camera.beat = self._beat
        self._limit = PATIENCE_S
        self._thread = threading.Thread(target=self._run, name="camera-owner", daemon=True)
        self._watch = threading.Thread(target=self._watch_over, name="camera-watch", daemon=True)

    def start(self) -> None:
        """Start the owner's thread; the camera is opened there."""
        self._thread.start()
        self._watch.start()

    def stop(self, timeout: float = 5.0) -> bool:
        """Finish the job in progress, close the camera, end. False if it hangs and is left."""
        self._stopping.set()
        self._jobs.put(None)
        self._thread.join(timeout)
        self._watch.join(timeout)
        return not self._thread.is_alive()

    def state(self) -> CameraState:
        """What is known now; never waits for the camera."""
        with self._lock:
            hung = self._clock.monotonic() > self._silent_until
            state: State = "hung" if hung else self._state
            says = _SAYS["hung"] if hung else self._says
            return CameraState(self._camera.identity, state, says, self._since, self._capabilities)

    def call(self, work: Callable[[Camera], T], late: Callable[[T], None] | None = None) -> T:
        """Do ``work`` in the owner's thread and return what it gives.

        Raises what it raises; :class:`CameraAway` or :class:`CameraHung` when the camera is not
        there. ``late`` receives the result of a call that ended after its caller had given up.
        """
        self._refuse_unless_there()
        job = _Job(work, late)
        self._jobs.put(job)
        while True:
            try:
                return job.future.result(timeout=WATCH_S / 4)
            except FutureTimeout:
                if job.future.done():
                    continue
                if self.state().state == "hung" or self._stopping.is_set():
                    self._give_up(job)
            except CancelledError:
                raise CameraAway("The camera was let go before it was asked.") from None

    def capture(
        self,
        before: Callable[[float], None],
        late: Callable[[Taken], None] | None = None,
        *,
        film: bool = True,
    ) -> Taken:
        """Take one picture. ``before`` gets the expected exposure in seconds and runs in the
        owner's thread right before the shutter, when the live picture rests. ``film`` is False for
        a test picture."""

        def work(camera: Camera) -> Taken:
            expected = camera.exposure_seconds()
            before(expected)
            self._enter("exposing")
            try:
                with self._calling(PATIENCE_S + expected):
                    return camera.capture() if film else camera.capture_test()
            finally:
                if self._open:
                    self._enter("ready")

        return self.call(work, late)

    # -- the caller's side -------------------------------------------------------------------

    def _refuse_unless_there(self) -> None:
        now = self.state()
        if now.state == "hung":
            raise CameraHung("The camera has not answered for some seconds.", retry_after=3)
        if now.state in ("away", "opening") and not self._wait_opening():
            raise CameraAway(self.state().says, retry_after=2)

    def _wait_opening(self) -> bool:
        """A camera that is just being opened is worth a short wait."""
        opened = threading.Event()
        for _ in range(int(PATIENCE_S / WATCH_S)):
            state = self.state().state
            if state != "opening":
                return state in ("ready", "exposing")
            opened.wait(WATCH_S)
        return False

    def _give_up(self, job: _Job[Any]) -> None:
        """Void the job: never begun later; if it runs, its result goes to ``late``."""
        with self._lock:
            if job.future.done():
                return
            job.given_up = True
        job.future.cancel()
        self._tell()
        raise CameraHung("The camera has not answered; nothing will be fired later.", retry_after=3)

    # -- the owner's thread ------------------------------------------------------------------

    def _run(self) -> None:
        while not self._stopping.is_set():
            if not self._open and not self._try_to_open():
                self._refuse_jobs(RETRY_S)
                continue
            job = self._next_job()
            if job is not None:
                self._do(job)
            elif self._live_wanted():
                self._one_live_picture()
            else:
                self._guarded(self._camera.alive)
        self._refuse_jobs(0)
        self._camera.close()

    def _next_job(self) -> _Job[Any] | None:
        try:
            if self._live_wanted():
                return self._jobs.get_nowait()
            return self._jobs.get(timeout=CHECK_S)
        except queue.Empty:
            return None

    def _live_wanted(self) -> bool:
        can = self._capabilities is not None and self._capabilities.live_picture
        return can and self._live.watched and not self._stopping.is_set()

    def poke(self) -> None:
        """Wake the thread: somebody has begun to look."""
        self._jobs.put(None)

    def _try_to_open(self) -> bool:
        if self._state != "away":
            self._enter("opening")
        try:
            with self._calling(PATIENCE_S):
                self._camera.open()
        except StandclearError as error:
            self._lose(error.detail)
            return False
        except Exception:
            log.exception("The driver failed while opening")
            self._lose("The driver failed while opening the camera; see the log.")
            return False
        self._capabilities = self._camera.capabilities
        self._open = True
        self._enter("ready")
        return True

    def _do(self, job: _Job[Any]) -> None:
        if not job.future.set_running_or_notify_cancel():
            return
        try:
            with self._calling(PATIENCE_S):
                result = job.work(self._camera)
        except StandclearError as error:
            if isinstance(error, CameraAway):
                self._lose(error.detail)
            self._settle(job, error=error)
        except Exception:
            log.exception("The driver failed")
            self._lose("The driver failed; the camera is taken up again.")
            self._settle(job, error=CaptureFailed("The driver failed; see the service's log."))
        else:
            self._settle(job, result=result)

    def _settle(
        self, job: _Job[Any], result: Any = None, error: StandclearError | None = None
    ) -> None:
        with self._lock:
            given_up = job.given_up
            if error is not None:
                job.future.set_exception(error)
            else:
                job.future.set_result(result)
        if given_up and error is None and job.late is not None:
            job.late(result)

    def _one_live_picture(self) -> None:
        picture = self._guarded(self._camera.live)
        if picture is not None:
            self._live.publish(picture)

    def _guarded(self, ask: Callable[[], T]) -> T | None:
        """A call on the owner's own account: a failure means that the camera is away."""
        try:
            with self._calling(PATIENCE_S):
                return ask()
        except StandclearError as error:
            self._lose(error.detail)
        except Exception:
            log.exception("The driver failed")
            self._lose("The driver failed; the camera is taken up again.")
        return None

    def _lose(self, says: str) -> None:
        self._open = False
        self._camera.close()
        self._enter("away", says)

    def _refuse_jobs(self, seconds: float) -> None:
        """Let the retry time pass, answering whoever asks meanwhile."""
        deadline = self._clock.monotonic() + seconds
        while True:
            left = deadline - self._clock.monotonic()
            try:
                job = self._jobs.get(timeout=max(0.0, left))
            except queue.Empty:
                return
            if job is not None and job.future.set_running_or_notify_cancel():
                self._settle(job, error=CameraAway(self._says, retry_after=2))
            if self._stopping.is_set() and self._jobs.empty():
                return

    # -- state -------------------------------------------------------------------------------

    @contextmanager
    def _calling(self, limit: float) -> Iterator[None]:
        """Within it the driver may be silent for ``limit`` seconds, then it counts as hung."""
        with self._lock:
            outer, self._limit = self._limit, limit
            self._silent_until = self._clock.monotonic() + limit
        try:
            yield
        finally:
            with self._lock:
                self._limit = outer
                self._silent_until = float("inf")

    def _beat(self) -> None:
        with self._lock:
            self._silent_until = self._clock.monotonic() + self._limit

    def _enter(self, state: State, says: str = "") -> None:
        with self._lock:
            self._state = state
            self._says = says or _SAYS[state]
        self._tell()

    def _tell(self) -> None:
        """Tell of a change once, whichever thread sees it first."""
        seen = self.state()
        with self._lock:
            if self._told == (seen.state, seen.says):
                return
            self._told = (seen.state, seen.says)
            self._since = self._clock.now()
        self._on_change(self.state())

    def _watch_over(self) -> None:
        while not self._stopping.wait(WATCH_S):
            self._tell()
