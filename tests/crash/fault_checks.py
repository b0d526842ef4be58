"""Promises 1 and 2, asked of a library after a step failed: what was lost, in plain sentences."""

import hashlib
import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

from standclear.errors import StandclearError
from standclear.imaging.container import check_whole
from standclear.library.check import check
from standclear.library.history import NothingToRedo, NothingToUndo
from standclear.library.library import Library
from tests.crash.fault_work import view
from tests.library_kit import SetClock, keep, order
from tests.outside.film_probe import probe

Said = list[list[Any]]


def heard(data: bytes) -> Said:
    """What the child said; a last line cut short was not said."""
    return [json.loads(line) for line in data.split(b"\n")[:-1]]


def losses(library: Path, image: Path, said: Said, views: list[list[Any]]) -> list[str]:
    """What the library lost of what was there before (``image``) and of what was said since.

    ``views`` are how it stood before, and what the work's edits lead to one after the other.
    """
    lost = [str(word[1]) for word in said if word[0] in ("crashed", "torn")]
    lost += _altered(library, image, said)
    lost += _film(library, said)
    lost += _backups(library, image)
    try:
        with Library.open(library, SetClock()) as opened:
            lost += _records(opened, said, views)
            lost += _halves(library)
            lost += _goes_on(opened)
        if not check(library).well:
            lost.append(f"the check is not well: {check(library)}")
    except StandclearError as error:
        lost.append(f"the library does not open: {error.detail}")
    except FileNotFoundError as error:
        lost.append(f"an original is gone: {error.filename}")
    return lost


def _halves(library: Path) -> list[str]:
    """No file that is not whole has a final name, not even aside."""
    files = [*(library / "shots").glob("*/*.jpg"), *(library / "shots").glob("*/unclaimed/*")]
    wrong = [one for one in files if not _whole(one.read_bytes())]
    return [f"{one.name} is not whole" for one in wrong]


def _whole(data: bytes) -> bool:
    return data == b"after" or check_whole(data) is None


def _altered(library: Path, image: Path, said: Said) -> list[str]:
    """Promise 2: originals byte for byte under the names that they had; nothing half."""
    gone = {one for word in said if word[0] == "may go" for one in word[1]}
    lost = []
    for path in sorted((image / "shots").glob("*/*.jpg")):
        here = library / path.relative_to(image)
        if not here.exists():
            if not gone:
                lost.append(f"{path.name} is gone")
        elif here.read_bytes() != path.read_bytes():
            lost.append(f"{path.name} was altered")
    return lost


def _film(library: Path, said: Said) -> list[str]:
    """No half film under the final name; a film that was said to be there is there, whole."""
    film, frames = library / "film.mp4", [word[1] for word in said if word[0] == "exported"]
    if not film.exists():
        return ["the film that was said to be made is not there"] if frames else []
    try:
        found = int(probe(film).video["nb_read_frames"])
    except Exception as error:
        return [f"half a film has the final name: {error!r}"[:200]]
    return [] if found == 3 else [f"the film has {found} frames"]


def _backups(library: Path, image: Path) -> list[str]:
    """Once a library of an older version was upgraded, its database is there as it was, whole."""
    if not (image / "library.db").exists():
        return []
    old, backups = _version(image / "library.db"), list(library.glob("*.backup.db"))
    if not backups and _version(library / "library.db") not in (old, NOT_THERE):
        return ["there is no backup of the database that was upgraded"]
    return [f"the backup {one.name} is not whole" for one in backups if _version(one) != old]


NOT_THERE = "not there"


def _version(path: Path) -> str:
    if not path.exists():
        return NOT_THERE
    try:
        with closing(sqlite3.connect(path)) as connection:
            (found,) = connection.execute("PRAGMA quick_check(1)").fetchone()
            row = connection.execute("SELECT version_num FROM alembic_version").fetchone()
        return str(row[0]) if found == "ok" else f"damaged: {found}"
    except sqlite3.Error as error:
        return f"damaged: {error}"


def _records(library: Library, said: Said, views: list[list[Any]]) -> list[str]:
    """Promise 1: each acknowledged exposure is there, with its bytes; each edit holds."""
    lost = []
    shots = [*library.shots().items, *library.binned_shots().items]
    if not shots:
        before = views or any(word[0] in ("begun", "stands", "kept") for word in said)
        return ["the shot is gone"] if before else []
    stood = [word[1] for word in said if word[0] == "stands"]
    seen = view(library)
    kept = [(word[1], word[2]) for word in said if word[0] == "kept"]
    if views and not kept and seen not in views[len(stood) : len(stood) + 2]:
        lost.append(f"after {len(stood)} edits it stands like none of them: {seen}")
    for exposure, sha256 in kept:
        lost += _exposure(library, shots[0].id, exposure, sha256)
    if library.swept.missing:
        lost.append(f"recorded, and not there: {library.swept.missing}")
    return lost


def _exposure(library: Library, shot: str, exposure: str, sha256: str) -> list[str]:
    if exposure not in order(library, shot):
        return [f"the acknowledged exposure {exposure} is not in the shot"]
    data = library.original_path(shot, exposure).read_bytes()
    return [] if hashlib.sha256(data).hexdigest() == sha256 else [f"{exposure} was altered"]


def _goes_on(library: Library) -> list[str]:
    """Every edit can be undone and redone, and shooting goes on."""
    if not library.shots().items:
        return []
    shot, before = library.shots().items[0], view(library)
    try:
        _until(lambda: library.undo(shot.id), NothingToUndo)
        _until(lambda: library.redo(shot.id), NothingToRedo)
    except StandclearError as error:
        return [f"an edit cannot be undone and redone: {error.detail}"]
    keep(library, shot.id, "goes on")
    library.undo(shot.id)
    # What was undone before is redone now; then it is another state than before.
    if not shot.can_redo and view(library)[:3] != before[:3]:
        return [f"undone and redone it is not as it was: {before} {view(library)}"]
    return []


def _until(work: Callable[[], object], end: type[Exception]) -> None:
    try:
        while True:
            work()
    except end:
        pass
