"""From options to the work on each picture: the size, the view, the corrections."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace

from standclear.finishing.cleanup import clean_up_plan, exposures_needed
from standclear.finishing.develop import Pixels, RawRecipe, develop, raw_recipe, size_of
from standclear.finishing.even import LightChange, light_plan
from standclear.finishing.framing import fit, view_of
from standclear.finishing.options import ExportOptions
from standclear.finishing.painting import Paint
from standclear.finishing.pipeline import Attendance
from standclear.finishing.plate import Set
from standclear.finishing.problems import CannotExport, PictureUnreadable
from standclear.finishing.report import Progress
from standclear.finishing.sequence import FilmSequence, exposures_within
from standclear.finishing.shot import FilmShot
from standclear.finishing.steady import common_view, known_motions, move_plan
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
    if options.light is None and options.position is None and options.clean_up is None:
        return Planned(plan, notes)
    measure = _Measuring(shot, options, film, common, patience, progress)
    everything = measure.surveyed()
    among = set(film.used)
    measured = {index: one for index, one in everything.measured.items() if index in among}
    found = replace(everything, measured=measured)
    lit = replace(plan, lights=_lights(shot, options, found))
    steadied, more = _steadied(shot, options, lit, found)
    paints, still_more = measure.cleaned(everything, lit.lights)
    return Planned(replace(steadied, paints=paints), notes + more + still_more, found)


@dataclass(frozen=True)
class _Measuring:
    """Looks at the pictures that are needed, and tells how far it is."""

    shot: FilmShot
    options: ExportOptions
    film: FilmSequence
    common: PictureWork
    patience: Attendance
    progress: Callable[[Progress], None]

    def picture(self, index: int) -> Pixels:
        """An original, made to fit."""
        return fit(develop(self.shot.exposures[index], self.common.raw), *self.common.source)

    def surveyed(self) -> Survey:
        """All exposures of the film, and those that a clean-up needs beside them."""
        needed = exposures_needed(self.options.clean_up, len(self.shot.exposures))
        indices = sorted(needed.union(self.film.used))
        reference = _reference(self.shot, self.options, self.film, self.common.raw)
        return survey(indices, self.picture, reference, self.patience, self._stage("measuring"))

    def cleaned(
        self, found: Survey, lights: dict[int, LightChange]
    ) -> tuple[dict[int, Paint], tuple[str, ...]]:
        """What is painted out."""
        wanted = self.options.clean_up
        if wanted is None:
            return {}, ()
        motions, _ = known_motions(found)
        scene = Set(self.picture, self.common.source, found, motions, self.patience)
        return clean_up_plan(scene, wanted, self.film.used, lights, self._stage("following"))

    def _stage(self, phase: str) -> Callable[[int], None]:
        return lambda done: self.progress(Progress(phase, done, max(done, len(self.film.used))))


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
