"""One frame before and after its corrections, for a comparison on the screen."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import simplejpeg

from standclear.finishing.develop import Pixels, as_eight_bits
from standclear.finishing.options import ExportOptions
from standclear.finishing.pipeline import Patience
from standclear.finishing.planning import Planned, work_plan
from standclear.finishing.problems import CannotExport
from standclear.finishing.report import Progress
from standclear.finishing.sequence import film_sequence
from standclear.finishing.shot import FilmShot
from standclear.finishing.work import WorkPlan, finished

_QUALITY = 92


@dataclass(frozen=True)
class Look:
    """The same exposure as JPEG, framed alike: as shot, and as the film shows it."""

    before: bytes
    after: bytes


def plan_for(
    shot: FilmShot,
    options: ExportOptions,
    progress: Callable[[Progress], None] = lambda _: None,
    cancelled: Callable[[], bool] = lambda: False,
) -> Planned:
    """Measure the shot for these options; keep the answer to look at many frames."""
    film = film_sequence(shot, options.time)
    return work_plan(shot, options, film, Patience(cancelled), progress, deep=False)


def look(planned: Planned, number: int) -> Look:
    """Exposure ``number`` (from 1) before and after; raises CannotExport, PictureUnreadable."""
    plan = planned.plan
    if not 1 <= number <= len(plan.exposures):
        raise CannotExport(f"The shot has exposures 1 to {len(plan.exposures)}, not {number}.")
    as_shot = replace(plan, lights={}, moves={}, paints={})
    return Look(_jpeg(as_shot, number - 1), _jpeg(plan, number - 1))


def _jpeg(plan: WorkPlan, index: int) -> bytes:
    picture: Pixels = as_eight_bits(finished(plan.exposures[index], plan.of(index)))
    data: bytes = simplejpeg.encode_jpeg(
        picture, quality=_QUALITY, colorspace="BGR", colorsubsampling="420"
    )
    return data
