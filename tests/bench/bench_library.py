"""What the library costs: a keep against a bare write and flush, a long shot against a short one.

Run from the project's root: ``python -m tests.bench.bench_library [FOLDER]``. The folder should lie
on the disk that is to be measured. The short form of the second table is
``tests/unit/test_library_scale.py``.
"""

import os
import secrets
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

from sqlalchemy import insert, select, update

from standclear.clock import SystemClock
from standclear.library.library import Library
from standclear.library.schema import EditRow, ExposureRow, OriginalRow, ShotRow
from tests.library_kit import taken

PICTURE = 8_000_000
KEEP_GOAL = 1.25
SCALE_GOAL = 1.3


Timer = Callable[[], float]


def timed(work: Callable[[], object], timer: Timer = time.perf_counter) -> float:
    """Milliseconds."""
    begin = timer()
    work()
    return (timer() - begin) * 1000


def bare(path: Path, data: bytes) -> None:
    """What every program must do at least: write the file and flush it."""
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
    os.write(descriptor, data)
    os.fsync(descriptor)
    os.close(descriptor)


def keep_against_bare(folder: Path, times: int) -> dict[str, list[float]]:
    """Both in turn, each time with new bytes, so that both meet the same disk."""
    found: dict[str, list[float]] = {"bare write+flush": [], "keep": []}
    (folder / "bare").mkdir()
    with Library.open(folder / "library", SystemClock()) as library:
        shot = library.create_shot("Cork wakes").id
        for turn in range(times + 5):
            data = os.urandom(PICTURE)
            plain = timed(lambda n=turn, d=data: bare(folder / "bare" / f"{n}.jpg", d))
            picture = taken(data)
            kept = timed(lambda p=picture: library.keep(shot, p, camera="bench"))
            # Between two presses there are seconds; the journal has long been flushed by then.
            library._parts.journal.settle()
            if turn >= 5:
                found["bare write+flush"].append(plain)
                found["keep"].append(kept)
    return found


def long_shot(library: Library, exposures: int) -> str:
    """A shot with that many exposures, all but one of them made by hand in the database."""
    shot = library.create_shot(f"Cork of {exposures}").id
    first = library.keep(shot, taken(b"cork"), camera="bench").id
    with library._parts.database.write() as write:
        c = write.connection
        row = c.execute(select(ExposureRow).where(ExposureRow.id == first)).one()._asdict()
        found = c.execute(select(OriginalRow).where(OriginalRow.exposure_id == first)).one()
        file = found._asdict()
        ids = [secrets.token_hex(8) for _ in range(exposures - 1)]
        places = list(enumerate(ids, 2))
        c.execute(
            insert(ExposureRow),
            [row | {"id": one, "number": n, "last_number": n, "serial": n} for n, one in places],
        )
        c.execute(
            insert(OriginalRow),
            [
                file | {"id": secrets.token_hex(8), "exposure_id": one, "name": f"{n}.jpg"}
                for n, one in places
            ],
        )
        c.execute(
            insert(EditRow),
            [
                {
                    "shot_id": shot,
                    "seq": n,
                    "says": f"take exposure {n}",
                    "forward": [["insert", one, n]],
                    "backward": [["remove", one]],
                }
                for n, one in places
            ],
        )
        c.execute(
            update(ShotRow)
            .where(ShotRow.id == shot)
            .values(
                exposure_count=exposures,
                frame_count=exposures,
                next_serial=exposures + 1,
                edit_done=exposures,
            )
        )
    return shot


def long_against_short(
    folder: Path, times: int, timer: Timer = time.perf_counter
) -> dict[str, tuple[float, float]]:
    """Per operation: milliseconds in the short and in the long shot (lower quartile of both).

    ``time.thread_time`` as ``timer`` leaves out what else the machine does meanwhile.
    """
    with Library.open(folder, SystemClock()) as library:
        shots = (long_shot(library, 100), long_shot(library, 10_000))
        operations: dict[str, Callable[[str], object]] = {
            "capture": lambda shot: library.keep(shot, taken(b"cork"), camera="bench"),
            "first page": lambda shot: library.exposures(shot, limit=100),
            "playback last=24": lambda shot: library.playback(shot, last=24),
            "playback from 1, 24 frames": lambda shot: library.playback(shot, limit=24),
            "shot": library.shot,
        }
        found = {}
        for name, operation in operations.items():
            costs: tuple[list[float], list[float]] = ([], [])
            for _ in range(times):
                for shot, cost in zip(shots, costs, strict=True):
                    cost.append(timed(lambda o=operation, s=shot: o(s), timer))
            found[name] = (lower_quartile(costs[0]), lower_quartile(costs[1]))
    return found


def lower_quartile(values: list[float]) -> float:
    """Less shaken by what else the machine does than the median."""
    return statistics.quantiles(values, n=4)[0]


def main(folder: Path) -> None:
    """Print both tables beside their goals."""
    with TemporaryDirectory(dir=folder) as place:
        found = keep_against_bare(Path(place), 50)
    print(f"8 MB, {len(found['keep'])} in turn, ms    median     95 %")
    for name, values in found.items():
        high = statistics.quantiles(values, n=20)[-1]
        print(f"{name:26}{statistics.median(values):10.2f}{high:9.2f}")
    ratio = statistics.median(found["keep"]) / statistics.median(found["bare write+flush"])
    print(f"keep / bare: {ratio:.2f} (goal for the whole press: at most {KEEP_GOAL})\n")
    with TemporaryDirectory(dir=folder) as place:
        scale = long_against_short(Path(place), 200)
    print("lower quartile, ms          100 exp.   10,000 exp.   ratio")
    for name, (short, long) in scale.items():
        print(f"{name:28}{short:8.2f}{long:14.2f}{long / short:8.2f}")
    print(f"goal for each ratio: at most {SCALE_GOAL}")


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else "."))
