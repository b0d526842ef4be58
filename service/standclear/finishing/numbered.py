"""Numbered pictures: one file for each frame, in a folder or a ZIP."""

from collections.abc import Callable
from pathlib import Path

from standclear.finishing import stills
from standclear.finishing.develop import Pixels
from standclear.finishing.leader import leader_card
from standclear.finishing.output import Job, Made, Output, stem_of

ZIP = "application/zip"


def _written(extension: str, written: Callable[[Pixels], bytes]) -> Callable[..., Made]:
    def write(job: Job, draft: Path, target: Path) -> Made:
        pictures = job.pictures()
        tray = stills.tray_for(draft, target)
        name = _names(job, extension)
        if job.leader_frames:
            deep = job.plan.common.deep
            card = leader_card(job.shot.name, str(job.film.rate), job.size, deep=deep)
            stills.lay_run(tray, written(card), 0, job.leader_frames, name)
        for run, picture in job.runs(pictures):
            start = job.leader_frames + run.start
            stills.lay_run(tray, written(picture), start, run.frames, name)
        tray.close()
        return Made(job.leader_frames + len(job.film.exposures), pictures.notes)

    return write


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


def _names(job: Job, extension: str) -> Callable[[int], str]:
    stem = stem_of(job.shot.name)
    return lambda frame: stills.numbered(stem, frame, extension)


PNG = Output("PNG", "One file for each frame", ".zip", ZIP, _written(".png", stills.png))
TIFF = Output(
    "TIFF, 16 bit", "One file for each frame", ".zip", ZIP, _written(".tiff", stills.tiff),
    deep=True,
)  # fmt: skip
ORIGINALS = Output(
    "Originals", "As the camera gave them, one for each frame", ".zip", ZIP, _originals,
    leads=False,
)  # fmt: skip
