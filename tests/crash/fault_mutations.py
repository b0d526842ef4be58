"""The program with one safeguard taken out, to try whether the harness would notice.

Applied in the child only, before it opens the library.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from standclear.finishing import keeping
from standclear.library import database, disk, migrate


def _no_flush_of_files() -> None:
    disk.Disk.fsync = lambda self, descriptor: None  # type: ignore[method-assign]


def _no_flush_of_folders() -> None:
    disk.Disk.fsync_dir = lambda self, folder: None  # type: ignore[method-assign]


def _no_rename() -> None:
    """Originals are written under their final names at once."""
    create = disk.Disk.create

    def final(path: Path) -> Path:
        return path.with_name(path.name.removeprefix(".").removesuffix(".part"))

    disk.Disk.create = lambda self, path: create(self, final(path))  # type: ignore[method-assign]
    disk.Disk.rename = lambda self, old, new: None  # type: ignore[method-assign]


def _no_flush_of_commits() -> None:
    database._PRAGMAS = tuple(  # type: ignore[assignment]
        pragma.replace("synchronous=FULL", "synchronous=OFF") for pragma in database._PRAGMAS
    )


def _film_not_flushed() -> None:
    keeping._flush = lambda draft: None


def _film_s_name_not_flushed() -> None:
    keeping._flush_folder = lambda folder: None


def _film_under_its_name_at_once() -> None:
    def final(target: Path) -> Any:
        class _Body:
            def __enter__(self) -> Path:
                return target

            def __exit__(self, *_: object) -> None:
                keeping._flush(target)
                keeping._flush_folder(target.parent)

        return _Body()

    from standclear.finishing import api

    api.unfinished = final  # type: ignore[assignment]


def _no_backup() -> None:
    migrate._back_up = lambda path, copy: None


def _backup_under_its_name_at_once() -> None:
    migrate.naming.temporary = lambda name: name


MUTATIONS: dict[str, tuple[str, Callable[[], None]]] = {
    "no flush of files": ("capture", _no_flush_of_files),
    "no flush of folders": ("capture", _no_flush_of_folders),
    "no rename": ("capture", _no_rename),
    "no flush of commits": ("edit", _no_flush_of_commits),
    "no flush of the film": ("export", _film_not_flushed),
    "no flush of the film's name": ("export", _film_s_name_not_flushed),
    "no rename of the film": ("export", _film_under_its_name_at_once),
    "no backup before upgrading": ("migrate", _no_backup),
    "no rename of the backup": ("migrate", _backup_under_its_name_at_once),
}


def mutate(name: str) -> None:
    """Take one safeguard out; nothing for the empty name."""
    if name:
        MUTATIONS[name][1]()
