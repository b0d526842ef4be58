"""Films and animations: one moving picture in one file."""

from collections.abc import Callable
from pathlib import Path

import av
import av.error

from standclear.finishing.animated import AnimatedWriter, palette_for
from standclear.finishing.encode import FilmTags, FilmWriter, to_video_frame
from standclear.finishing.leader import leader_card
from standclear.finishing.output import Job, Made, Output
from standclear.finishing.pipeline import in_film_order
from standclear.finishing.problems import CannotExport
from standclear.finishing.recipes import RECIPES
from standclear.finishing.soundtrack import Soundtrack


def _film(job: Job, draft: Path) -> Made:
    recipe = RECIPES[job.options.format]
    pictures = job.pictures()
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


def _soundtrack(job: Job) -> Soundtrack | None:
    if job.shot.sound is None or not job.options.sound.include:
        return None
    placed = job.leader_frames + job.sound_place
    return Soundtrack(job.shot.sound, placed / job.film.rate)


def _animated(job: Job, draft: Path) -> Made:
    pictures = job.pictures()
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
        for run, picture in job.runs(pictures):
            writer.write(picture, run.frames)
    return Made(job.leader_frames + len(job.film.exposures), pictures.notes)


def _encoded(write: Callable[[Job, Path], Made]) -> Callable[[Job, Path, Path], Made]:
    """``write``, with what an encoder refuses said in a sentence."""

    def told(job: Job, draft: Path, _target: Path) -> Made:
        try:
            return write(job, draft)
        except av.error.FFmpegError as error:
            if isinstance(error, OSError):  # the disk's fault, told by keeping.unfinished
                raise
            width, height = job.size
            raise CannotExport(
                f"The encoder for {job.options.format} refuses {width} by {height} pixels at "
                f"{job.film.rate} frames per second ({error.strerror})."
            ) from error

    return told


def _of_recipe(name: str, label: str, says: str) -> Output:
    recipe = RECIPES[name]
    return Output(
        label, says, recipe.extension, recipe.media_type, _encoded(_film), deep=recipe.deep
    )


H264 = _of_recipe("h264", "H.264", "MP4, H.264: plays on anything")
HEVC = _of_recipe("hevc", "HEVC", "MP4: half the size, for recent devices")
AV1 = _of_recipe("av1", "AV1", "MP4: half the size, for recent devices")
PRORES = _of_recipe("prores", "ProRes", "MOV, ProRes 422 HQ, 10 bit: large")
WEBM = _of_recipe("webm", "WebM", "WebM, VP9, for a web page")
WEBP = Output("WebP", "Plays by itself, no sound", ".webp", "image/webp", _encoded(_animated))
GIF = Output("GIF", "Plays by itself, no sound", ".gif", "image/gif", _encoded(_animated))
