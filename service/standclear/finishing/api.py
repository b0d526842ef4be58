"""The one way in: a shot, options and a target become a finished file and a report."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from standclear.finishing.farm import AHEAD, Farm
from standclear.finishing.figures import Meter, background_in, chosen, compared, surveyed
from standclear.finishing.formats import output_of
from standclear.finishing.interchange import Counting
from standclear.finishing.keeping import unfinished
from standclear.finishing.numbered import ZIP
from standclear.finishing.options import ExportOptions
from standclear.finishing.output import Job, Made, Maker, stem_of
from standclear.finishing.pipeline import WORKERS, Patience
from standclear.finishing.planning import work_plan
from standclear.finishing.report import ExportReport, Progress
from standclear.finishing.sequence import FilmSequence, film_sequence
from standclear.finishing.shot import FilmShot
from standclear.finishing.survey import Survey
from standclear.finishing.work import finished

__all__ = ["ExportOptions", "ExportReport", "FilmShot", "Progress", "export", "suggested_name"]


def suggested_name(shot: FilmShot, options: ExportOptions) -> str:
    """A file name for the film: the shot's name, made safe, and the format's extension."""
    return f"{stem_of(shot.name)}{output_of(options.format).extension}"


def media_type_of(options: ExportOptions, target: Path) -> str:
    """The media type (RFC 6838) of what an export writes."""
    media_type = output_of(options.format).media_type
    in_folder = media_type == ZIP and target.suffix != ".zip"
    return "inode/directory" if in_folder else media_type


def export(
    shot: FilmShot,
    options: ExportOptions,
    target: Path,
    progress: Callable[[Progress], None] = lambda _: None,
    cancelled: Callable[[], bool] = lambda: False,
    *,
    may_run: Callable[[], bool] = lambda: True,
    on: str | None = None,
) -> ExportReport:
    """Make the film at ``target``; nothing stands under that name unless it is whole.

    ``may_run`` is asked between pictures and makes the export wait while it says no. ``on`` is the
    address of a Dask scheduler that shall make the pictures (``standclear[farm]``). Raises
    CannotExport, SoundUnreadable, TargetError, or ExportCancelled when ``cancelled`` says so.
    """
    film = film_sequence(shot, options.time)
    patience = Patience(cancelled, may_run)
    patience.check()
    job, found = _prepared(shot, options, film, progress, patience)
    meter = _meter(job, found)
    with unfinished(target) as draft, _workshop(on) as (make, workers):
        ready = replace(job, meter=meter, make=make, workers=workers)
        made = output_of(options.format).write(ready, draft, target)
    figures, more = _figures(job, found, meter)
    return _report(job, made, target, figures, more)


@contextmanager
def _workshop(address: str | None) -> Iterator[tuple[Maker, int]]:
    """Who makes the pictures, and how many at a time."""
    if address is None:
        yield finished, WORKERS
        return
    with Farm(address) as farm:
        yield farm.finished, AHEAD


def _meter(job: Job, found: Survey | None) -> Meter | None:
    """Watches the finished pictures where something is corrected."""
    plan = job.plan
    if found is None or not (plan.lights or plan.moves):
        return None
    still = background_in(plan.common.view, plan.common.source, found.plate.sure)
    return Meter(chosen(job.film.used), still)


def _figures(
    job: Job, found: Survey | None, meter: Meter | None
) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Flicker and jitter before and after, where something was corrected."""
    if found is None or meter is None:
        return {}, ()
    before = surveyed(found, chosen(job.film.used), job.plan.common.view.scale)
    return compared(before, meter.result())


def _prepared(
    shot: FilmShot,
    options: ExportOptions,
    film: FilmSequence,
    progress: Callable[[Progress], None],
    patience: Patience,
) -> tuple[Job, Survey | None]:
    output = output_of(options.format)
    counting = Counting.starting(options.timecode, film.rate)
    planned = work_plan(shot, options, film, patience, progress, deep=output.deep)
    job = Job(
        shot, options, film, planned.plan, counting, patience, progress, planned.notes,
        leads=output.leads,
    )  # fmt: skip
    return job, planned.found


def _report(
    job: Job,
    made: Made,
    target: Path,
    figures: dict[str, Any],
    more: tuple[str, ...],
) -> ExportReport:
    film, view = job.film, job.plan.common.view
    size = size_on_disk(target)
    duration = Fraction(made.frames) / film.rate
    return ExportReport(
        path=target,
        format=job.options.format,
        media_type=media_type_of(job.options, target),
        frames=made.frames,
        exposures=len(film.used),
        rate=str(film.rate),
        duration=str(duration),
        duration_s=float(duration),
        width=view.out_width,
        height=view.out_height,
        size=size,
        notes=job.notes + made.notes + more,
        figures=figures,
    )


def size_on_disk(path: Path) -> int:
    """Bytes of a file, or of all files of a folder."""
    files = path.rglob("*") if path.is_dir() else [path]
    return sum(file.stat().st_size for file in files)
