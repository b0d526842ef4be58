"""Lists that hold no pictures: the cut list and the exposure sheet's table."""

from pathlib import Path

from standclear.finishing.interchange import sheet_csv, timeline, write_timeline
from standclear.finishing.output import Job, Made, Output


def _csv(job: Job, draft: Path, _target: Path) -> Made:
    draft.write_text(sheet_csv(job.shot, job.film, job.counting), "utf-8", newline="")
    return Made(len(job.film.exposures))


def _otio(job: Job, draft: Path, _target: Path) -> Made:
    start = round(job.sound_place) if job.options.sound.include else None
    write_timeline(timeline(job.shot, job.film, job.counting, start), draft)
    return Made(len(job.film.exposures))


CSV = Output("CSV", "A table to open anywhere", ".csv", "text/csv", _csv, leads=False)
OTIO = Output(
    "OTIO", "OpenTimelineIO: points at the originals", ".otio", "application/json", _otio,
    leads=False,
)  # fmt: skip
