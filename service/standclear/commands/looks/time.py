"""The clock: was it ever set, and does it go on from the library's last exposure?"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from datetime import datetime, timedelta
from pathlib import Path

from standclear.clock import Clock
from standclear.commands.looks.finding import Finding
from standclear.library.library import DATABASE_FILE
from standclear.library.migrate import open_to_read

OLDEST_SANE = datetime.fromisoformat("2026-01-01T00:00:00+00:00")
BACK = timedelta(minutes=1)


def clock(library: Path, now: Clock) -> Iterator[Finding]:
    """Times of exposures are written down from it, and certificates are good by it."""
    time = now.now()
    last = _last_exposure(library)
    if time < OLDEST_SANE:
        yield Finding("clock", "fault", "The clock is far in the past; set it, or network time.")
    elif last is not None and time < last - BACK:
        behind = str(last - time).partition(".")[0]
        says = (
            f"The clock is {behind} behind the library's last exposure: it was set back, or set "
            "ahead before. Nothing is lost by it, the order of shooting stays; set it right."
        )
        yield Finding("clock", "warning", says)
    else:
        yield Finding("clock", "well", f"{time:%Y-%m-%d %H:%M:%S} UTC")


def _last_exposure(library: Path) -> datetime | None:
    """When the last exposure was kept, as far as that can be told."""
    path = library / DATABASE_FILE
    with suppress(sqlite3.Error, ValueError, TypeError):
        with closing(open_to_read(path)) as connection:
            row = connection.execute("SELECT max(kept_at) FROM exposures").fetchone()
        return datetime.fromisoformat(row[0])
    return None
