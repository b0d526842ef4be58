"""What is done while a step fails: a capture, edits, a migration, an export, each in a child.

The child says what was acknowledged by adding a line to the file ``said`` of the file system that
fails, so that the order of steps and words is one. A refusal is said too; that mends the file
system, and the child does the same thing again.
"""

import hashlib
import json
import os
import sqlite3
import traceback
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

from alembic import command
from sqlalchemy import create_engine

from standclear.cameras.base import (
    Camera,
    CameraAway,
    Capabilities,
    CaptureFailed,
    Identity,
    Original,
    Taken,
)
from standclear.clock import SystemClock
from standclear.errors import StandclearError
from standclear.finishing.api import ExportOptions, export
from standclear.finishing.shot import FilmExposure, FilmShot
from standclear.library import migrate as migrate_module
from standclear.library.library import Library
from standclear.shooting.darkroom import DarkRoom
from standclear.shooting.live import LiveHub
from standclear.shooting.owner import CameraOwner
from standclear.shooting.shutter import Press, Shutter
from standclear.timing.plan_convert import stored
from standclear.timing.plan_text import parse_plan
from tests.crash.fault_fs import CAMERA, SAID
from tests.library_kit import SetClock, keep, order, taken
from tests.pictures import jpeg

Say = Callable[..., None]
SHOT = "Cork"
MOST_REFUSALS = 3


def make_image(folder: Path) -> None:
    """The library that all of it begins with: three exposures, one more in the bin, a plan."""
    with Library.open(folder, SetClock()) as library:
        shot = library.create_shot(SHOT).id
        for seed in range(4):
            library.keep(shot, taken(jpeg(64, 48, seed=seed)), camera="toy")
        library.bin_exposure(shot, order(library, shot)[3])
        library.put_plan(shot, stored(parse_plan("wait 1 s, hold", Fraction(12))))


def make_old_image(folder: Path) -> None:
    """The same, in a database that the first version made."""
    make_image(folder)
    path, new = folder / "library.db", folder / "new.db"
    path.rename(new)
    engine = create_engine(f"sqlite:///{path}")
    config = migrate_module._config(migrate_module.MIGRATIONS)
    with engine.connect() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
        connection.commit()
    engine.dispose()
    with closing(sqlite3.connect(path)) as database, database:
        database.execute("ATTACH ? AS new", (str(new),))
        tables = [row[0] for row in database.execute(TABLES)]
        for table in tables:
            names = [row[1] for row in database.execute(f"PRAGMA table_info({table})")]
            some = ", ".join(names)
            database.execute(f"INSERT INTO {table} ({some}) SELECT {some} FROM new.{table}")
    with closing(sqlite3.connect(path)) as database:
        database.execute("PRAGMA journal_mode=WAL")
    new.unlink()


TABLES = "SELECT name FROM main.sqlite_master WHERE type = 'table' AND name <> 'alembic_version'"


def the_shot(library: Library) -> str:
    """The shot's id, be it in the bin."""
    return str([*library.shots().items, *library.binned_shots().items][0].id)


def view(library: Library) -> list[Any]:
    """All that an edit can change, as plain lists."""
    shots, binned = library.shots().items, library.binned_shots().items
    if not shots:
        return ["in the bin", binned[0].name]
    shot = shots[0]
    exposures = [[e.id, e.hold, e.note] for e in library.exposures(shot.id).items]
    aside = [e.id for e in library.binned(shot.id).items]
    return [shot.name, shot.frame_rate, exposures, aside, library.plan(shot.id)[0]]


class StepCamera(Camera):
    """Its answer is a step too: what is written to the file ``camera`` can fail."""

    kind = "step"

    def __init__(self, answer: Path) -> None:
        self._answer = answer
        self._taken = 0

    @property
    def identity(self) -> Identity:
        return Identity("step", "step", "Step camera")

    @property
    def capabilities(self) -> Capabilities:
        return Capabilities(False, False, "")

    def open(self) -> None:
        pass

    def close(self) -> None:
        pass

    def capture(self) -> Taken:
        self._taken += 1
        with self._answer.open("ab", buffering=0) as line:
            try:
                line.write(b"taken")
            except OSError as error:
                gone = self._taken % 2 == 0
                raise (CameraAway("Gone.") if gone else CaptureFailed("No.")) from error
        data = jpeg(64, 48, seed=100 + self._taken)
        return Taken((Original(data, "image/jpeg", "jpg", 64, 48),), datetime.now(UTC), {})


class _Quiet:
    """Nobody listens."""

    def __getattr__(self, name: str) -> Callable[..., None]:
        return lambda *_, **__: None


def capture(run: Path, say: Say) -> None:
    """Two presses, through shutter and owner to the disk."""
    with Library.open(run / "library", SystemClock()) as library:
        shot = the_shot(library)
        owner = CameraOwner(
            StepCamera(run / CAMERA), clock=SystemClock(), live=LiveHub(), on_change=lambda _: None
        )
        owner.start()
        shutter = Shutter(
            owner=lambda: owner, library=library, darkroom=DarkRoom(), listener=_Quiet()
        )
        try:
            for _ in range(2):
                (kept,) = _until_done(lambda: shutter.press(Press(shot)), say)
                say("kept", kept.id, kept.originals[0].sha256)
        finally:
            owner.stop()


def _until_done(work: Callable[[], Any], say: Say) -> Any:
    """Do it; said and done again where it is refused."""
    for _ in range(MOST_REFUSALS):
        try:
            return work()
        except StandclearError as error:
            say("refused", error.code, error.detail)
    return work()


def edits(library: Library) -> Iterator[Callable[[], Any]]:
    """One edit after the other; each is a promise once it has returned."""
    shot = the_shot(library)
    a, b, c = order(library, shot)
    yield lambda: library.change_exposure(shot, a, hold=3, note="ears up")
    yield lambda: library.bin_exposure(shot, b)
    yield lambda: library.undo(shot)
    yield lambda: library.redo(shot)
    yield lambda: library.restore_exposure(shot, library.binned(shot).items[-1].id)
    yield lambda: library.change_shot(shot, name="Cork wakes", notes="shy")
    yield lambda: library.put_plan(shot, stored(parse_plan("peek 12 mm over 1 s", Fraction(12))))
    yield lambda: library.bin_shot(shot)
    yield lambda: library.restore_shot(shot)
    yield lambda: library.bin_exposure(shot, c)


def edit(run: Path, say: Say) -> None:
    """All edits. Each that was refused must have changed nothing."""
    with Library.open(run / "library", SystemClock()) as library:
        for one in edits(library):
            before = view(library)

            def refused(*what: Any, before: list[Any] = before) -> None:
                say(*what)
                if view(library) != before:
                    say("torn", "an edit that was refused changed something")

            _until_done(one, refused)
            say("stands", view(library))


def empty(run: Path, say: Say) -> None:
    """The one thing that removes: emptying the bin."""
    with Library.open(run / "library", SystemClock()) as library:
        shot = the_shot(library)
        say("may go", [e.id for e in library.binned(shot).items])
        _until_done(lambda: library.empty_bin(shot), say)
        say("stands", view(library))


def begin(run: Path, say: Say) -> None:
    """A library that is not there yet: made, a shot in it, an exposure."""
    library = _until_done(lambda: Library.open(run / "library", SystemClock()), say)
    with library:
        shot = _until_done(lambda: library.create_shot(SHOT), say)
        say("begun", shot.id)
        kept = _until_done(lambda: keep(library, shot.id, "after"), say)
        say("kept", kept, hashlib.sha256(b"after").hexdigest())


def migrate(run: Path, say: Say) -> None:
    """Open a library of the first version, and go on shooting."""
    library = _until_done(lambda: Library.open(run / "library", SystemClock()), say)
    with library:
        say("stands", view(library))
        shot = the_shot(library)
        kept = _until_done(lambda: keep(library, shot, "after"), say)
        say("kept", kept, hashlib.sha256(b"after").hexdigest())


def make_film(run: Path, say: Say) -> None:
    """A film beside the library, as ``standclear export`` makes it."""
    paths = sorted((run / "library" / "shots").glob("*/*.jpg"))[:3]
    shot = FilmShot("Cork", "12", tuple(FilmExposure(path) for path in paths))
    _until_done(lambda: export(shot, ExportOptions(), run / "library" / "film.mp4"), say)
    say("exported", len(paths))


WORKS: dict[str, Callable[[Path, Say], None]] = {
    "begin": begin,
    "capture": capture,
    "edit": edit,
    "empty": empty,
    "migrate": migrate,
    "export": make_film,
}


def carry_out(run: Path, name: str, mutation: str = "") -> None:
    """In the child: do one of the works, and say how it ended."""
    from tests.crash.fault_mutations import mutate

    said = os.open(run / SAID, os.O_WRONLY | os.O_APPEND)

    def say(*what: Any) -> None:
        os.write(said, json.dumps(what).encode() + b"\n")

    mutate(mutation)
    try:
        WORKS[name](run, say)
    except StandclearError as error:
        say("refused", error.code, error.detail)
        say("gave up", error.code)
    except BaseException:
        say("crashed", traceback.format_exc())
    else:
        say("done")
