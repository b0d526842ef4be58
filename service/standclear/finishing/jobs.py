"""The export desk: films asked for one after another, made by one thread, in the background.

The desk owns a folder: ``<id>.json`` says what became of an export, ``<id>/`` holds its file. The
thread has a low priority and waits while the set is exposing, so that a film never costs a picture.
"""

import logging
import os
import queue
import shutil
import sys
import threading
import uuid
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from standclear.clock import Clock
from standclear.errors import Conflict, NotFound, StandclearError
from standclear.finishing.api import export, suggested_name
from standclear.finishing.job_states import SAYS, JobEvent, JobState, after, is_over
from standclear.finishing.job_store import ExportJob, FolderStore, JobStore
from standclear.finishing.keeping import sweep
from standclear.finishing.options import ExportOptions
from standclear.finishing.problems import ExportCancelled
from standclear.finishing.report import ExportReport, Progress
from standclear.finishing.shot import FilmShot
from standclear.memory import give_back

_log = logging.getLogger(__name__)
_NICENESS = 10
_TELL_EVERY_S = 0.25

Work = Callable[..., ExportReport]


@dataclass(frozen=True)
class _Order:
    job_id: str
    shot: FilmShot
    options: ExportOptions


class ExportDesk:
    """Takes exports, makes them one by one, tells how far they are. All methods are thread safe.

    ``may_run`` says no while the set is exposing. ``on_change`` hears of each change of a job, from
    the desk's own thread. ``work`` is the export itself, for tests to replace.
    """

    def __init__(
        self,
        folder: Path,
        clock: Clock,
        *,
        store: JobStore | None = None,
        may_run: Callable[[], bool] = lambda: True,
        on_change: Callable[[ExportJob], object] = lambda _: None,
        work: Work = export,
    ) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self._folder, self._clock, self._may_run = folder, clock, may_run
        self._store = store or FolderStore(folder)
        self._on_change, self._work = on_change, work
        self._lock = threading.RLock()
        self._orders: queue.SimpleQueue[_Order | None] = queue.SimpleQueue()
        self._cancelled: set[str] = set()
        self._closing = threading.Event()
        self._jobs = {job.id: job for job in self._store.load()}
        self._say_what_a_restart_stopped()
        self._thread = threading.Thread(target=self._run, name="export desk", daemon=True)
        self._thread.start()

    def submit(self, shot_id: str, shot: FilmShot, options: ExportOptions) -> ExportJob:
        """Queue an export of the shot as it is now."""
        if self._closing.is_set():
            raise Conflict("The service is stopping and takes no more exports.")
        job = ExportJob(
            id=uuid.uuid4().hex[:12],
            shot=shot_id,
            name=suggested_name(shot, options),
            options=options.model_dump(mode="json"),
            created_at=self._clock.now().isoformat(),
            says=SAYS[JobState.QUEUED],
        )
        self._keep(job)
        self._orders.put(_Order(job.id, shot, options))
        return job

    def list(self, shot_id: str | None = None) -> list[ExportJob]:
        """All exports, or one shot's, newest first."""
        with self._lock:
            jobs = [job for job in self._jobs.values() if shot_id in (None, job.shot)]
        return sorted(jobs, key=lambda job: (job.created_at, job.id), reverse=True)

    def get(self, job_id: str) -> ExportJob:
        """One export; raises NotFound."""
        with self._lock:
            if job_id not in self._jobs:
                raise NotFound(f"There is no export {job_id}.")
            return self._jobs[job_id]

    def file(self, job_id: str) -> Path:
        """The finished file; raises Conflict while there is none."""
        job = self.get(job_id)
        path = self._path(job)
        if job.state is not JobState.DONE or not path.exists():
            raise Conflict(f"The export has no file: {job.says}")
        return path

    def cancel(self, job_id: str) -> ExportJob:
        """Cancel what is queued or being made; raises Conflict when it is over."""
        with self._lock:
            job = self.get(job_id)
            after(job.state, JobEvent.CANCEL)
            self._cancelled.add(job_id)
            return self._step(job_id, JobEvent.CANCEL) if job.state is JobState.QUEUED else job

    def remove(self, job_id: str) -> None:
        """Remove an export and its file, cancelling it first when it is still being made."""
        with self._lock:
            if not is_over(self.get(job_id).state):
                self.cancel(job_id)
            if is_over(self.get(job_id).state):
                self._forget(job_id)

    def close(self) -> None:
        """Stop; what is not done says that it was stopped."""
        self._closing.set()
        self._orders.put(None)
        self._thread.join()
        with self._lock:
            for job in self.list():
                if not is_over(job.state):
                    self._step(job.id, JobEvent.RESTART)

    def _run(self) -> None:
        if sys.platform == "linux":  # there a priority belongs to a thread, not to the process
            os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), _NICENESS)
        while (order := self._orders.get()) is not None:
            if self._closing.is_set():
                return
            if order.job_id not in self._cancelled:
                self._make(order)
                give_back()

    def _make(self, order: _Order) -> None:
        job = self._step(order.job_id, JobEvent.START)
        target = self._path(job)
        target.parent.mkdir(exist_ok=True)
        watch = _Watch(self, order.job_id, self._clock)
        try:
            report = self._work(
                order.shot, order.options, target, watch.progress, watch.cancelled,
                may_run=watch.may_run,
            )  # fmt: skip
        except ExportCancelled:
            closing = self._closing.is_set() and order.job_id not in self._cancelled
            self._step(order.job_id, JobEvent.RESTART if closing else JobEvent.CANCEL)
        except StandclearError as error:
            self._fail(order.job_id, error)
        except Exception as error:  # the thread must outlive a fault that nobody foresaw
            _log.exception("export %s failed", order.job_id)
            self._fail(order.job_id, StandclearError(f"The export failed: {error}."))
        else:
            done = {"report": report.as_json(), "frames_done": report.frames}
            self._step(order.job_id, JobEvent.FINISH, seconds_left=0.0, **done)

    def _fail(self, job_id: str, error: StandclearError) -> None:
        problem = {"code": error.code, "detail": error.detail, "hint": error.hint}
        self._step(job_id, JobEvent.FAIL, problem=problem, says=error.detail)

    def _step(self, job_id: str, event: JobEvent, **changes: object) -> ExportJob:
        with self._lock:
            job = self._jobs[job_id]
            if job.state is JobState.WAITING and event in (JobEvent.FINISH, JobEvent.FAIL):
                job = replace(job, state=JobState.WORKING)
            state = after(job.state, event)
            says = {"says": SAYS[state]} if state in SAYS else {}
            changed = replace(job, **{"state": state, **says, **changes})  # type: ignore[arg-type]
            self._keep(changed)
            return changed

    def _keep(self, job: ExportJob) -> None:
        with self._lock:
            self._jobs[job.id] = job
            self._store.save(job)
        self._on_change(job)

    def _forget(self, job_id: str) -> None:
        self._store.remove(job_id)
        del self._jobs[job_id]
        shutil.rmtree(self._folder / job_id, ignore_errors=True)

    def _path(self, job: ExportJob) -> Path:
        return self._folder / job.id / job.name

    def _say_what_a_restart_stopped(self) -> None:
        for job in list(self._jobs.values()):
            if not is_over(job.state):
                self._step(job.id, JobEvent.RESTART)
        for folder in self._folder.iterdir():
            if folder.is_dir():
                sweep(folder)


class _Watch:
    """What the working export is asked and tells, for one job."""

    def __init__(self, desk: ExportDesk, job_id: str, clock: Clock) -> None:
        self._desk, self._job_id, self._clock = desk, job_id, clock
        self._worked_s, self._since = 0.0, clock.monotonic()
        self._told_at, self._phase = float("-inf"), ""

    def cancelled(self) -> bool:
        return self._job_id in self._desk._cancelled or self._desk._closing.is_set()

    def may_run(self) -> bool:
        may, desk = self._desk._may_run(), self._desk
        state = desk.get(self._job_id).state
        if not may and state is JobState.WORKING:
            self._worked_s += self._clock.monotonic() - self._since
            desk._step(self._job_id, JobEvent.YIELD)
        if may and state is JobState.WAITING:
            self._since = self._clock.monotonic()
            desk._step(self._job_id, JobEvent.RESUME)
        return may

    def progress(self, progress: Progress) -> None:
        now, desk = self._clock.monotonic(), self._desk
        done, total = progress.frames_done, progress.frames_total
        if progress.phase != self._phase:  # what came before says nothing of this one's pace
            self._phase, self._worked_s, self._since = progress.phase, 0.0, now
        if now - self._told_at < _TELL_EVERY_S and done < total:
            return
        self._told_at = now
        give_back()  # a long film would hold what its first pictures took
        spent = self._worked_s + now - self._since
        left = round(spent / done * (total - done), 1) if done else None
        with desk._lock:
            job = replace(
                desk.get(self._job_id),
                phase=progress.phase, frames_done=done, frames_total=total, seconds_left=left,
            )  # fmt: skip
            desk._jobs[job.id] = job  # progress is not written down: a restart stops it anyway
        desk._on_change(job)
