"""From options to the work on each picture: the size, the view, the corrections."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace

from standclear.finishing.develop import RawRecipe, develop, raw_recipe, size_of
from standclear.finishing.even import LightChange, light_plan
from standclear.finishing.framing import fit, view_of
from standclear.finishing.options import ExportOptions
from standclear.finishing.pipeline import Attendance
from standclear.finishing.problems import CannotExport, PictureUnreadable
from standclear.finishing.report import Progress
from standclear.finishing.sequence import FilmSequence, exposures_within
from standclear.finishing.shot import FilmShot
from standclear.finishing.steady import common_view, move_plan
from standclear.finishing.survey import Survey, survey
from standclear.finishing.work import PictureWork, WorkPlan


@dataclass(frozen=True)
class Planned:
    """The work on each picture, sentences about what is not as asked, and what was measured."""

    plan: WorkPlan
    notes: tuple[str, ...] = ()
    found: Survey | None = None


def work_plan(
    shot: FilmShot,
    options: ExportOptions,
    film: FilmSequence,
    patience: Attendance,
    progress: Callable[[Progress], None],
    *,
    deep: bool,
) -> Planned:
    """The work on each picture, and sentences about what is not as asked."""
    source, notes = source_size(shot, film)
    view = view_of(*source, options.framing)
    used = tuple(shot.exposures[index] for index in film.used)
    common = PictureWork(source, view, deep=deep, raw=raw_recipe(used))
    plan = WorkPlan(shot.exposures, common)
    if options.light is None and options.position is None:
        return Planned(plan, notes)

    def tell(done: int) -> None:
        progress(Progress("measuring", done, len(film.used)))

    found = survey(
        film.used,
        lambda index: fit(develop(shot.exposures[index], common.raw), *source),
        _reference(shot, options, film, common.raw),
        patience,
        tell,
    )
    lit = replace(plan, lights=_lights(shot, options, found))
    steadied, more = _steadied(shot, options, lit, found)
    return Planned(steadied, notes + more, found)


def source_size(shot: FilmShot, film: FilmSequence) -> tuple[tuple[int, int], tuple[str, ...]]:
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


def _reference(shot: FilmShot, options: ExportOptions, film: FilmSequence, raw: RawRecipe) -> int:
    """The exposure asked for, else the first of the film that can be read."""
    asked = options.position.reference if options.position else None
    if asked is not None and asked > len(shot.exposures):
        raise CannotExport(f"There is no exposure {asked} to hold the picture to.")
    for index in [asked - 1] if asked else film.used:
        try:
            develop(shot.exposures[index], raw)
        except PictureUnreadable:
            continue
        return index
    raise CannotExport("The exposure to hold the picture to cannot be read. Choose another.")


def _lights(shot: FilmShot, options: ExportOptions, found: Survey) -> dict[int, LightChange]:
    light = options.light
    if light is None:
        return {}
    left_alone = exposures_within(shot.holds, light.leave_alone)
    return light_plan(found, light.strength, light.field, left_alone)


def _steadied(
    shot: FilmShot, options: ExportOptions, plan: WorkPlan, found: Survey
) -> tuple[WorkPlan, tuple[str, ...]]:
    position, common = options.position, plan.common
    if position is None:
        return plan, ()
    left_alone = exposures_within(shot.holds, position.leave_alone)
    moves, notes = move_plan(found, common.source, left_alone, fill=position.edges == "fill")
    if position.edges == "crop":
        view = common_view(common.view, moves, common.source)
        common = replace(common, view=view)
    return replace(plan, common=common, moves=moves), notes
