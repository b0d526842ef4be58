"""What every output is written from (`Job`), what it answers (`Made`), and its names (`Output`)."""

import re
import unicodedata
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from standclear.finishing.develop import Pixels
from standclear.finishing.figures import Meter
from standclear.finishing.interchange import Counting
from standclear.finishing.options import ExportOptions
from standclear.finishing.pipeline import WORKERS, Patience, StandIns, in_film_order
from standclear.finishing.report import Progress
from standclear.finishing.sequence import FilmSequence, Run, sound_frame
from standclear.finishing.shot import FilmExposure, FilmShot
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
    leads: bool = True

    @property
    def leader_frames(self) -> int:
        """Frames of the card before the film, 0 without one."""
        wanted = self.options.leader and self.leads
        return round(_LEADER_SECONDS * self.film.rate) if wanted else 0

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the film in pixels."""
        return self.plan.common.view.out_width, self.plan.common.view.out_height

    @property
    def sound_place(self) -> Fraction:
        """The film frame, the leader not counted, at which the sound starts."""
        return self.options.sound.offset_frames + sound_frame(self.shot, self.options.time)

    def tell(self, done: int) -> None:
        """Report progress."""
        self.progress(Progress("pictures", done, self.leader_frames + len(self.film.exposures)))

    def pictures(self) -> StandIns:
        """Finished pictures by exposure index, with neighbours for those that cannot be read."""

        def make(index: int) -> Pixels:
            picture = self.make(self.shot.exposures[index], self.plan.of(index))
            if self.meter is not None:
                self.meter.see(index, picture)
            return picture

        return StandIns(make, self.film.used)

    def runs(self, pictures: StandIns) -> Iterator[tuple[Run, Pixels]]:
        """Each run of the film with its finished picture, in order; tells how far it is."""
        runs = self.film.runs()
        for run, picture in in_film_order(runs, pictures.picture, self.patience, self.workers):
            yield run, picture
            self.tell(self.leader_frames + run.start + run.frames)


@dataclass(frozen=True)
class Made:
    """What the writing made: frames in the file, and sentences about stand-ins."""

    frames: int
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Output:
    """One kind of file: its names, and what writes it.

    ``write`` gets the job, the draft to write, and the final name (which says whether numbered
    pictures go into a folder or a ZIP). ``extension`` ends the name that is proposed. ``leads``: a
    leader's card may stand before it. ``deep``: it wants pictures of 16 bits.
    """

    label: str
    says: str
    extension: str
    media_type: str
    write: Callable[[Job, Path, Path], Made]
    leads: bool = True
    deep: bool = False


def stem_of(name: str) -> str:
    """A shot's name as part of a file name: letters, digits and single hyphens."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")[:60] or "shot"
