"""Writes each kind of output from the same stream of finished pictures."""

import re
import unicodedata
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import av.error

from standclear.finishing import stills
from standclear.finishing.animated import AnimatedWriter, palette_for
from standclear.finishing.develop import Pixels
from standclear.finishing.encode import FilmTags, FilmWriter, to_video_frame
from standclear.finishing.figures import Meter
from standclear.finishing.interchange import Counting, sheet_csv, timeline, write_timeline
from standclear.finishing.leader import leader_card
from standclear.finishing.options import ExportOptions
from standclear.finishing.pipeline import WORKERS, Patience, StandIns, in_film_order
from standclear.finishing.problems import CannotExport
from standclear.finishing.recipes import RECIPES
from standclear.finishing.report import Progress
from standclear.finishing.sequence import FilmSequence, Run, sound_frame
from standclear.finishing.shot import FilmExposure, FilmShot
from standclear.finishing.soundtrack import Soundtrack
from standclear.finishing.work import PictureWork, WorkPlan, finished

_LEADER_SECONDS = 2

Maker = Callable[[FilmExposure, PictureWork], Pixels]


@dataclass(frozen=True)
class Job:
    """One export, thought through: all that the writing needs."""

    shot: FilmShot
    options: ExportOptions
    film: FilmSequence
    plan: WorkPlan
    counting: Counting
    patience: Patience
    progress: Callable[[Progress], None]
    notes: tuple[str, ...] = ()
    meter: Meter | None = None
    make: Maker = finished
    workers: int = WORKERS

    @property
    def leader_frames(self) -> int:
        """Frames of the card before the film, 0 without one."""
        pictures = self.options.format not in ("otio", "csv", "originals")
        return round(_LEADER_SECONDS * self.film.rate) if self.options.leader and pictures else 0

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the film in pixels."""
        return self.plan.common.view.out_width, self.plan.common.view.out_height

    def tell(self, done: int) -> None:
        """Report progress."""
        self.progress(Progress("pictures", done, self.leader_frames + len(self.film.exposures)))


@dataclass(frozen=True)
class Made:
    """What the writing made: frames in the file, and sentences about stand-ins."""

    frames: int
    notes: tuple[str, ...] = ()


def write(job: Job, draft: Path, target: Path) -> Made:
    """Write the output that the job's format names at ``draft``."""
    kind = job.options.format
    if kind == "csv":
        draft.write_text(sheet_csv(job.shot, job.film, job.counting), "utf-8", newline="")
        return Made(len(job.film.exposures))
    if kind == "otio":
        start = round(_sound_place(job)) if job.options.sound.include else None
        write_timeline(timeline(job.shot, job.film, job.counting, start), draft)
        return Made(len(job.film.exposures))
    if kind == "originals":
        return _originals(job, draft, target)
    if kind in ("png", "tiff"):
        return _numbered(job, draft, target)
    try:
        return _animated(job, draft) if kind in ("gif", "webp") else _film(job, draft)
    except av.error.FFmpegError as error:
        if isinstance(error, OSError):  # the disk's fault, told by keeping.unfinished
            raise
        raise CannotExport(
            f"The encoder for {kind} refuses {job.size[0]} by {job.size[1]} pixels at "
            f"{job.film.rate} frames per second ({error.strerror})."
        ) from error


def _film(job: Job, draft: Path) -> Made:
    recipe = RECIPES[job.options.format]
    pictures = stand_ins(job, job.plan)
    tags = FilmTags(job.options.title or job.shot.name, job.options.timecode)
    with FilmWriter(
        draft, recipe, job.size, job.film.rate, tags,
        quality=job.options.quality, soundtrack=_soundtrack(job),
    ) as writer:  # fmt: skip
        if job.leader_frames:
            card = leader_card(job.shot.name, str(job.film.rate), job.size)
            writer.write(to_video_frame(card, recipe.pixel_format), job.leader_frames)

        def framed(index: int) -> av.VideoFrame:
            return to_video_frame(pictures.picture(index), recipe.pixel_format)

        for run, frame in in_film_order(job.film.runs(), framed, job.patience, job.workers):
            for _ in range(run.frames):
                job.patience.check()
                writer.write(frame)
            job.tell(writer.frames)
    return Made(writer.frames, pictures.notes)


def _animated(job: Job, draft: Path) -> Made:
    pictures = stand_ins(job, job.plan)
    kind, last = job.options.format, job.film.runs()[-1]
    palette = palette_for(job.film.used, pictures.picture) if kind == "gif" else None
    with AnimatedWriter(
        draft, kind, job.size, job.film.rate,
        last=(job.leader_frames + last.start, last.frames),
        endless=job.options.endless, quality=job.options.quality, palette=palette,
    ) as writer:  # fmt: skip
        if job.leader_frames:
            card = leader_card(job.shot.name, str(job.film.rate), job.size)
            writer.write(card, job.leader_frames)
        for run, picture in _pictures(job, pictures):
            writer.write(picture, run.frames)
    return Made(job.leader_frames + len(job.film.exposures), pictures.notes)


def _numbered(job: Job, draft: Path, target: Path) -> Made:
    pictures = stand_ins(job, job.plan)
    tray = stills.tray_for(draft, target)
    written = stills.png if job.options.format == "png" else stills.tiff
    name = _names(job, f".{job.options.format}")
    if job.leader_frames:
        card = leader_card(job.shot.name, str(job.film.rate), job.size, deep=job.plan.common.deep)
        stills.lay_run(tray, written(card), 0, job.leader_frames, name)
    for run, picture in _pictures(job, pictures):
        start = job.leader_frames + run.start
        stills.lay_run(tray, written(picture), start, run.frames, name)
    tray.close()
    return Made(job.leader_frames + len(job.film.exposures), pictures.notes)


def _originals(job: Job, draft: Path, target: Path) -> Made:
    tray = stills.tray_for(draft, target)
    notes = []
    for run in job.film.runs():
        job.patience.check()
        path = job.shot.exposures[run.exposure].path
        if path.is_file():
            name = _names(job, path.suffix.lower())
            stills.lay_run(tray, path.read_bytes(), run.start, run.frames, name)
        else:
            notes.append(f"Exposure {run.exposure + 1}: {path.name} is missing and was left out.")
        job.tell(run.start + run.frames)
    tray.close()
    return Made(len(job.film.exposures), tuple(notes))


def _pictures(job: Job, pictures: StandIns) -> Iterator[tuple[Run, Pixels]]:
    runs = job.film.runs()
    for run, picture in in_film_order(runs, pictures.picture, job.patience, job.workers):
        yield run, picture
        job.tell(job.leader_frames + run.start + run.frames)


def stand_ins(job: Job, plan: WorkPlan) -> StandIns:
    """Finished pictures by exposure index, with neighbours for those that cannot be read."""

    def make(index: int) -> Pixels:
        picture = job.make(job.shot.exposures[index], plan.of(index))
        if job.meter is not None:
            job.meter.see(index, picture)
        return picture

    return StandIns(make, job.film.used)


def _soundtrack(job: Job) -> Soundtrack | None:
    if job.shot.sound is None or not job.options.sound.include:
        return None
    placed = job.leader_frames + _sound_place(job)
    return Soundtrack(job.shot.sound, placed / job.film.rate)


def _sound_place(job: Job) -> Fraction:
    """The film frame, the leader not counted, at which the sound starts."""
    return job.options.sound.offset_frames + sound_frame(job.shot, job.options.time)


def _names(job: Job, extension: str) -> Callable[[int], str]:
    stem = stem_of(job.shot.name)
    return lambda frame: stills.numbered(stem, frame, extension)


def stem_of(name: str) -> str:
    """A shot's name as part of a file name: letters, digits and single hyphens."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")[:60] or "shot"


def size_on_disk(path: Path) -> int:
    """Bytes of a file, or of all files of a folder."""
    files = path.rglob("*") if path.is_dir() else [path]
    return sum(file.stat().st_size for file in files)
