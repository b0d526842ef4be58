"""The one way in: a shot, options and a target become a finished file and a report."""

from collections import Counter
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

from standclear.finishing import outputs
from standclear.finishing.develop import raw_recipe, size_of
from standclear.finishing.framing import view_of
from standclear.finishing.interchange import Counting
from standclear.finishing.keeping import unfinished
from standclear.finishing.options import ExportOptions
from standclear.finishing.pipeline import Patience
from standclear.finishing.problems import CannotExport
from standclear.finishing.recipes import RECIPES
from standclear.finishing.report import ExportReport, Progress
from standclear.finishing.sequence import FilmSequence, film_sequence
from standclear.finishing.shot import FilmShot
from standclear.finishing.work import PictureWork

__all__ = ["ExportOptions", "ExportReport", "FilmShot", "Progress", "export", "suggested_name"]

_EXTENSIONS = {"webp": ".webp", "gif": ".gif", "otio": ".otio", "csv": ".csv"}
_MEDIA_TYPES = {
    "webp": "image/webp",
    "gif": "image/gif",
    "otio": "application/json",
    "csv": "text/csv",
}


def suggested_name(shot: FilmShot, options: ExportOptions) -> str:
    """A file name for the film: the shot's name, made safe, and the format's extension."""
    return f"{outputs.stem_of(shot.name)}{_extension(options)}"


def media_type_of(options: ExportOptions, target: Path) -> str:
    """The media type (RFC 6838) of what an export writes."""
    if options.format in RECIPES:
        return RECIPES[options.format].media_type
    plain = "application/zip" if target.suffix == ".zip" else "inode/directory"
    return _MEDIA_TYPES.get(options.format, plain)


def export(
    shot: FilmShot,
    options: ExportOptions,
    target: Path,
    progress: Callable[[Progress], None] = lambda _: None,
    cancelled: Callable[[], bool] = lambda: False,
    *,
    may_run: Callable[[], bool] = lambda: True,
) -> ExportReport:
    """Make the film at ``target``; nothing stands under that name unless it is whole.

    ``may_run`` is asked between pictures and makes the export wait while it says no. Raises
    CannotExport, SoundUnreadable, TargetError, or ExportCancelled when ``cancelled`` says so.
    """
    film = film_sequence(shot, options.time)
    patience = Patience(cancelled, may_run)
    patience.check()
    job = _prepared(shot, options, film, progress, patience)
    with unfinished(target) as draft:
        made = outputs.write(job, draft, target)
    return _report(job, made, target)


def _prepared(
    shot: FilmShot,
    options: ExportOptions,
    film: FilmSequence,
    progress: Callable[[Progress], None],
    patience: Patience,
) -> outputs.Job:
    source, notes = _source_size(shot, film)
    view = view_of(*source, options.framing)
    deep = options.format == "tiff" or getattr(RECIPES.get(options.format), "deep", False)
    used = tuple(shot.exposures[index] for index in film.used)
    work = PictureWork(source, view, deep=deep, raw=raw_recipe(used))
    counting = Counting.starting(options.timecode, film.rate)
    return outputs.Job(shot, options, film, work, counting, patience, progress, notes)


def _source_size(shot: FilmShot, film: FilmSequence) -> tuple[tuple[int, int], tuple[str, ...]]:
    """The size that most pictures have, and a note when some differ."""
    sizes: Counter[tuple[int, int]] = Counter()
    for index in film.used:
        exposure = shot.exposures[index]
        size = size_of(exposure.path)
        sizes[size if all(size) else (exposure.width, exposure.height)] += 1
    del sizes[(0, 0)]
    if not sizes:
        raise CannotExport("None of the shot's pictures can be read, so there is no film to make.")
    (most, count) = sizes.most_common(1)[0]
    others = sum(sizes.values()) - count
    if not others:
        return most, ()
    note = f"{others} of the pictures are not {most[0]} by {most[1]} pixels; they were made to fit."
    return most, (note,)


def _report(job: outputs.Job, made: outputs.Made, target: Path) -> ExportReport:
    film, view = job.film, job.work.view
    size = outputs.size_on_disk(target)
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
        notes=job.notes + made.notes,
    )


def _extension(options: ExportOptions) -> str:
    if options.format in RECIPES:
        return RECIPES[options.format].extension
    return _EXTENSIONS.get(options.format, ".zip")
