"""Exports queue, report, yield to the set, can be cancelled, and say what a restart did to them."""

import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from standclear.clock import SystemClock
from standclear.errors import Conflict, NotFound
from standclear.finishing import jobs
from standclear.finishing.job_states import TABLE, JobEvent, JobState, after, is_over
from standclear.finishing.job_store import ExportJob, FolderStore
from standclear.finishing.jobs import ExportDesk
from standclear.finishing.options import ExportOptions
from standclear.finishing.pipeline import Patience
from standclear.finishing.problems import TargetError
from standclear.finishing.report import ExportReport, Progress
from standclear.finishing.shot import FilmExposure, FilmShot
from tests.outside.film_probe import counted_shot
from tests.waiting import until

CORK = FilmShot("Cork wakes", "12", (FilmExposure(Path("cork_1.jpg")),))
WAIT_S = 20


class Bench:
    """A stand-in for the export itself, driven step by step from the test."""

    def __init__(self) -> None:
        self.started = threading.Event()
        self.go = threading.Event()
        self.order: list[str] = []
        self.error: Exception | None = None

    def __call__(self, shot, options, target, progress, cancelled, *, may_run):  # type: ignore[no-untyped-def]
        self.order.append(shot.name)
        patience = Patience(cancelled, may_run)
        progress(Progress("pictures", 1, 4))
        self.started.set()
        while not self.go.wait(0.01):
            patience.check()
        patience.check()
        if self.error is not None:
            raise self.error
        target.write_bytes(b"film")
        return ExportReport(target, "h264", "video/mp4", 4, 4, "12", "1/3", 1 / 3, 2, 2, 4)


class Heard:
    """Waits for a job to reach a state."""

    def __init__(self) -> None:
        self.changed = threading.Condition()
        self.jobs: list[ExportJob] = []

    def __call__(self, job: ExportJob) -> None:
        with self.changed:
            self.jobs.append(job)
            self.changed.notify_all()

    def wait(self, job_id: str, state: JobState) -> ExportJob:
        def found() -> list[ExportJob]:
            return [job for job in self.jobs if (job.id, job.state) == (job_id, state)]

        with self.changed:
            assert self.changed.wait_for(lambda: bool(found()), WAIT_S), self.jobs
            return found()[-1]


Opener = Callable[..., ExportDesk]


@pytest.fixture
def open_desk(tmp_path: Path) -> Iterator[Opener]:
    desks: list[ExportDesk] = []

    def opened(**more: object) -> ExportDesk:
        desks.append(ExportDesk(tmp_path / "exports", SystemClock(), **more))  # type: ignore[arg-type]
        return desks[-1]

    yield opened
    for desk in desks:
        desk.close()


def test_a_shot_becomes_a_film_at_the_desk(open_desk: Opener, tmp_path: Path):
    heard = Heard()
    desk = open_desk(on_change=heard)
    job = desk.submit("shot-1", counted_shot(tmp_path, 5), ExportOptions())
    done = heard.wait(job.id, JobState.DONE)
    assert done.name == "cork-wakes.mp4"
    assert done.report is not None
    assert done.report["frames"] == 5
    assert desk.file(job.id).stat().st_size == done.report["size"]
    assert [kept.state for kept in FolderStore(tmp_path / "exports").load()] == [JobState.DONE]


def test_exports_queue_and_are_made_one_by_one(open_desk: Opener):
    bench, heard = Bench(), Heard()
    desk = open_desk(work=bench, on_change=heard)
    first = desk.submit("a", CORK, ExportOptions())
    assert bench.started.wait(WAIT_S)
    second = desk.submit("b", CORK, ExportOptions())
    assert desk.get(second.id).state is JobState.QUEUED
    bench.go.set()
    heard.wait(first.id, JobState.DONE)
    heard.wait(second.id, JobState.DONE)
    assert [job.shot for job in desk.list()] in (["b", "a"],)
    assert [job.shot for job in desk.list("a")] == ["a"]


def test_progress_tells_frames_and_time_left(open_desk: Opener):
    bench, heard = Bench(), Heard()
    desk = open_desk(work=bench, on_change=heard)
    job = desk.submit("a", CORK, ExportOptions())
    assert bench.started.wait(WAIT_S)
    now = desk.get(job.id)
    assert (now.frames_done, now.frames_total) == (1, 4)
    assert now.seconds_left is not None
    assert now.seconds_left >= 0


def test_memory_is_given_back_while_a_film_is_made_and_after_it(
    open_desk: Opener, monkeypatch: pytest.MonkeyPatch
):
    given: list[str] = []
    monkeypatch.setattr(jobs, "give_back", lambda: given.append("back"))
    bench = Bench()
    desk = open_desk(work=bench)
    desk.submit("a", CORK, ExportOptions())
    assert bench.started.wait(WAIT_S)
    assert len(given) == 1
    bench.go.set()
    until(lambda: len(given) == 2, WAIT_S, "for what is given back after it")


def test_an_export_waits_while_the_set_exposes(open_desk: Opener):
    bench, heard, quiet = Bench(), Heard(), threading.Event()
    desk = open_desk(work=bench, on_change=heard, may_run=quiet.is_set)
    job = desk.submit("a", CORK, ExportOptions())
    heard.wait(job.id, JobState.WAITING)
    bench.go.set()
    assert desk.get(job.id).state is JobState.WAITING
    quiet.set()
    heard.wait(job.id, JobState.DONE)


@pytest.mark.parametrize("waiting", [False, True])
def test_what_is_being_made_can_be_cancelled(open_desk: Opener, waiting: bool, tmp_path: Path):
    bench, heard = Bench(), Heard()
    desk = open_desk(work=bench, on_change=heard, may_run=lambda: not waiting)
    job = desk.submit("a", CORK, ExportOptions())
    heard.wait(job.id, JobState.WAITING if waiting else JobState.WORKING)
    desk.cancel(job.id)
    heard.wait(job.id, JobState.CANCELLED)
    with pytest.raises(Conflict, match="no file"):
        desk.file(job.id)
    with pytest.raises(Conflict, match="can no longer cancel"):
        desk.cancel(job.id)


def test_what_is_queued_can_be_cancelled_and_is_never_made(open_desk: Opener):
    bench, heard = Bench(), Heard()
    desk = open_desk(work=bench, on_change=heard)
    first = desk.submit("a", CORK, ExportOptions())
    assert bench.started.wait(WAIT_S)
    second = desk.submit("b", CORK, ExportOptions())
    assert desk.cancel(second.id).state is JobState.CANCELLED
    bench.go.set()
    heard.wait(first.id, JobState.DONE)
    assert len(bench.order) == 1


@pytest.mark.parametrize(
    ("error", "says"),
    [(TargetError("No room is left."), "No room is left."), (ZeroDivisionError("0"), "failed: 0")],
)
def test_a_failure_is_told_and_the_desk_goes_on(open_desk: Opener, error: Exception, says: str):
    bench, heard = Bench(), Heard()
    bench.error = error
    bench.go.set()
    desk = open_desk(work=bench, on_change=heard)
    failed = heard.wait(desk.submit("a", CORK, ExportOptions()).id, JobState.FAILED)
    assert says in failed.says
    assert failed.problem is not None
    assert failed.problem["hint"]
    bench.error = None
    heard.wait(desk.submit("a", CORK, ExportOptions()).id, JobState.DONE)


def test_stopping_the_service_stops_exports_and_says_so(open_desk: Opener):
    bench, heard = Bench(), Heard()
    desk = open_desk(work=bench, on_change=heard)
    first, second = (desk.submit("a", CORK, ExportOptions()) for _ in range(2))
    assert bench.started.wait(WAIT_S)
    desk.close()
    again = open_desk(work=bench)
    assert [again.get(job.id).state for job in (first, second)] == [JobState.STOPPED] * 2
    assert "restart" in again.get(first.id).says


def test_after_a_crash_a_job_says_that_it_was_stopped_and_its_half_file_goes(
    open_desk: Opener, tmp_path: Path
):
    folder = tmp_path / "exports"
    (folder / "abc").mkdir(parents=True)
    half = folder / "abc" / ".film.mp4.1234.unfinished"
    half.write_bytes(b"half")
    now = datetime.now(UTC).isoformat()
    FolderStore(folder).save(ExportJob("abc", "a", "film.mp4", {}, now, JobState.WORKING))
    (folder / "def.json").write_text("{ cut short")
    desk = open_desk()
    assert desk.get("abc").state is JobState.STOPPED
    assert not half.exists()


def test_removing_an_export_removes_its_file(open_desk: Opener, tmp_path: Path):
    bench, heard = Bench(), Heard()
    bench.go.set()
    desk = open_desk(work=bench, on_change=heard)
    job = desk.submit("a", CORK, ExportOptions())
    heard.wait(job.id, JobState.DONE)
    film = desk.file(job.id)
    desk.remove(job.id)
    assert not film.exists()
    with pytest.raises(NotFound):
        desk.get(job.id)
    assert FolderStore(tmp_path / "exports").load() == []


def test_opening_and_closing_leaves_no_threads(tmp_path: Path):
    before = threading.active_count()
    for _ in range(20):
        ExportDesk(tmp_path / "exports", SystemClock()).close()
    assert threading.active_count() == before


def test_every_state_but_the_last_ones_can_be_stopped_and_cancelled():
    for state in JobState:
        if not is_over(state):
            assert after(state, JobEvent.RESTART) is JobState.STOPPED
            assert after(state, JobEvent.CANCEL) is JobState.CANCELLED
    assert {state for state in JobState if is_over(state)} == {"done", "failed", "cancelled"} | {
        "stopped"
    }
    assert set(TABLE.values()) | {JobState.QUEUED} == set(JobState)
