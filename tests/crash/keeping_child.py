"""The process that is killed: works on a library and says what was acknowledged."""

import hashlib
import random
from multiprocessing.connection import Connection
from pathlib import Path

from standclear.clock import SystemClock
from standclear.library.library import Library
from tests.crash.faulty_disk import KillingDisk
from tests.library_kit import taken


def picture(seed: int, size: int = 150_000) -> bytes:
    return random.Random(seed).randbytes(size)


def keep_for_ever(folder: Path, shot: str, seed: int, talk: Connection) -> None:
    """Keep one exposure after the other; say each one's hash before, and its id after."""
    library = Library.open(folder, SystemClock())
    count = 0
    while True:
        count += 1
        data = picture(seed * 100_000 + count)
        talk.send(("about to keep", hashlib.sha256(data).hexdigest()))
        files = (data, b"raw" + data) if count % 3 == 0 else (data,)
        if len(files) == 2:
            talk.send(("about to keep", hashlib.sha256(files[1]).hexdigest()))
        kept = library.keep(shot, taken(*files, kinds=("jpg", "nef")[: len(files)]), camera="toy")
        talk.send(("kept", kept.id))


def work(library: Library, talk: Connection | None = None) -> list[tuple[str, object]]:
    """A little of everything. Each thing is said when it is acknowledged."""
    said: list[tuple[str, object]] = []

    def say(what: str, value: object) -> None:
        said.append((what, value))
        if talk is not None:
            talk.send((what, value))

    shot = library.create_shot("Cork").id
    say("shot", shot)
    one = library.keep(shot, taken(picture(1, 3000)), camera="toy").id
    say("kept", one)
    two = library.keep(
        shot, taken(picture(2, 3000), picture(3, 3000), kinds=("jpg", "nef")), camera="toy"
    ).id
    say("kept", two)
    library.change_exposure(shot, one, hold=3)
    say("hold", (one, 3))
    three = library.keep(shot, taken(picture(4, 3000)), camera="toy", replaces=one).id
    say("kept", three)
    library.bin_exposure(shot, two)
    say("order", [three])
    library.undo(shot)
    say("order", [three, two])
    library.undo(shot)
    say("order", [one, two])
    library.empty_bin(shot)
    say("gone", three)
    return said


def work_until_killed(folder: Path, at: int, talk: Connection) -> None:
    """:func:`work`, killed before its ``at``-th step on disk; ends with "done" where it is not."""
    library = Library.open(folder, SystemClock(), KillingDisk(at))
    work(library, talk)
    library.close()
    talk.send(("done", None))
