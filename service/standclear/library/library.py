"""The library: the folder that holds all shots, behind one class.

Everything here hands on to a small module of its own; what it promises stands in their first
lines (``keeping.py``, ``store.py``, ``history.py``, ``journal.py``). All methods may be called from
any thread. Errors are those of ``standclear.errors`` and ``library/failures.py``.
"""

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from standclear.cameras.base import Taken
from standclear.clock import Clock
from standclear.library import migrate, playback
from standclear.library.chronicle import Chronicle
from standclear.library.copies import Copies
from standclear.library.database import Database
from standclear.library.disk import Disk
from standclear.library.editor import Editor
from standclear.library.exposures import Exposures
from standclear.library.failures import told_as_storage
from standclear.library.journal import Journal
from standclear.library.keeping import Keeper, Wish
from standclear.library.lock import Lock
from standclear.library.previews import Previews
from standclear.library.receipts import Receipts
from standclear.library.records import (
    Exposure,
    Judged,
    Line,
    Page,
    Playback,
    Receipt,
    Session,
    Shot,
    Sweep,
)
from standclear.library.settings import Settings
from standclear.library.shots import Shots
from standclear.library.store import Store
from standclear.library.sweep import sweep

DATABASE_FILE = "library.db"
SHOTS_FOLDER = "shots"
PREVIEWS_FOLDER = "previews"


@dataclass(frozen=True, slots=True)
class _Parts:
    lock: Lock
    database: Database
    journal: Journal
    store: Store
    keeper: Keeper
    shots: Shots
    exposures: Exposures
    editor: Editor
    previews: Previews
    receipts: Receipts
    settings: Settings
    copies: Copies
    swept: Sweep


class Library:
    """One library, open. Made by :meth:`open`, let go by :meth:`close`."""

    def __init__(self, folder: Path, parts: _Parts) -> None:
        self.folder = folder
        self._parts = parts
        self._shots = parts.shots
        self._exposures = parts.exposures
        self._receipts = parts.receipts
        self._settings = parts.settings

    @classmethod
    def open(cls, folder: Path, clock: Clock, disk: Disk | None = None) -> "Library":
        """Open the library in ``folder``, making it where there is none.

        Raises ``library_in_use``, ``library_newer``, ``library_damaged``, ``library_read_only``.
        """
        disk = disk or Disk()
        with told_as_storage("opening"):
            (folder / SHOTS_FOLDER).mkdir(parents=True, exist_ok=True)
            (folder / PREVIEWS_FOLDER).mkdir(exist_ok=True)
        lock = Lock(folder)
        try:
            with told_as_storage("opening"):
                return cls(folder, _assemble(folder, clock, disk, lock))
        except BaseException:
            lock.release()
            raise

    def close(self) -> None:
        """Finish what is being written, then let go of the folder. May be called twice."""
        self._parts.database.close()
        self._parts.journal.close()
        self._parts.store.close()
        self._parts.lock.release()

    def __enter__(self) -> "Library":
        """Itself, for ``with``."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close it."""
        self.close()

    @property
    def swept(self) -> Sweep:
        """What opening found and tidied up."""
        return self._parts.swept

    @property
    def copies(self) -> Copies:
        """What second places hold of it."""
        return self._parts.copies

    def unclaimed(self) -> list[Path]:
        """Whole originals that no record knows, set aside."""
        return self._parts.store.unclaimed()

    # Shots

    def shots(self, after: str | None = None, limit: int = 50) -> Page[Shot]:
        """The shots in the order they were made."""
        return self._shots.page(after, limit, binned=False)

    def binned_shots(self, after: str | None = None, limit: int = 50) -> Page[Shot]:
        """The shots in the bin."""
        return self._shots.page(after, limit, binned=True)

    def shot(self, shot_id: str) -> Shot:
        """One shot."""
        return self._shots.one(shot_id)

    def create_shot(self, name: str, frame_rate: str = "12", notes: str = "") -> Shot:
        """A new shot."""
        return self._shots.create(name, frame_rate, notes)

    def change_shot(
        self,
        shot_id: str,
        *,
        name: str | None = None,
        frame_rate: str | None = None,
        notes: str | None = None,
        if_revision: int | None = None,
    ) -> Shot:
        """Change what is given; one undoable edit."""
        return self._shots.change(shot_id, name, frame_rate, notes, if_revision)

    def bin_shot(self, shot_id: str, if_revision: int | None = None) -> Shot:
        """Into the bin; nothing on disk changes."""
        return self._shots.set_binned(shot_id, True, if_revision)

    def restore_shot(self, shot_id: str) -> Shot:
        """Back from the bin."""
        return self._shots.set_binned(shot_id, False)

    def undo(self, shot_id: str) -> Shot:
        """Take the last edit of the shot back."""
        return self._parts.editor.undo(shot_id)

    def redo(self, shot_id: str) -> Shot:
        """Do again what was last undone."""
        return self._parts.editor.redo(shot_id)

    def plan(self, shot_id: str) -> tuple[dict[str, Any] | None, int]:
        """The shot's plan and its revision (0: none yet)."""
        return self._shots.plan(shot_id)

    def put_plan(
        self, shot_id: str, plan: Mapping[str, Any], if_revision: int | None = None
    ) -> int:
        """Replace the plan. Returns its new revision."""
        return self._shots.put_plan(shot_id, plan, if_revision)

    # Exposures

    def check_place(
        self,
        shot_id: str,
        *,
        hold: int | None = None,
        insert_after: str | None = None,
        replaces: str | None = None,
    ) -> None:
        """Raises what would be wrong with such a :meth:`keep`; ask it before the shutter opens."""
        self._parts.keeper.check(shot_id, Wish(hold, insert_after, replaces))

    def make_sure_of_room(self, shot_id: str) -> None:
        """Raises ``disk_full`` when another picture like the shot's last would not fit."""
        self._parts.keeper.make_sure_of_room(shot_id)

    def keep(
        self,
        shot_id: str,
        taken: Taken,
        *,
        camera: str,
        hold: int | None = None,
        insert_after: str | None = None,
        replaces: str | None = None,
        receipt: str | None = None,
        fingerprint: str = "",
    ) -> Exposure:
        """Keep an exposure: on disk, flushed and recorded when this returns.

        ``hold`` is 1, or that of the exposure it ``replaces``, unless given. ``insert_after`` is
        ``"start"`` or an exposure's id. ``receipt`` is the
        key it was asked under, ``fingerprint`` that of the request.
        """
        wish = Wish(hold, insert_after, replaces, receipt, fingerprint)
        return self._parts.keeper.keep(shot_id, taken, camera, wish)

    def exposures(self, shot_id: str, after: str | None = None, limit: int = 100) -> Page[Exposure]:
        """The shot's exposures in order."""
        return self._exposures.page(shot_id, after, limit)

    def outline(self, shot_id: str) -> list[Line]:
        """All the shot's exposures in order, little of each."""
        return self._exposures.outline(shot_id)

    def judged(self, shot_id: str) -> list[Judged]:
        """All exposures in order with their verdicts, little else of each."""
        return self._exposures.judged(shot_id)

    def exposure(self, shot_id: str, exposure_id: str) -> Exposure:
        """One exposure, in the bin or not."""
        return self._exposures.one(shot_id, exposure_id)

    def change_exposure(
        self,
        shot_id: str,
        exposure_id: str,
        *,
        hold: int | None = None,
        note: str | None = None,
        if_revision: int | None = None,
    ) -> Exposure:
        """Change what is given; one undoable edit."""
        return self._exposures.change(shot_id, exposure_id, hold, note, if_revision)

    def bin_exposure(
        self, shot_id: str, exposure_id: str, if_revision: int | None = None
    ) -> Exposure:
        """Into the shot's bin."""
        return self._exposures.to_bin(shot_id, exposure_id, if_revision)

    def binned(self, shot_id: str, after: str | None = None, limit: int = 100) -> Page[Exposure]:
        """What is in the shot's bin, in the order of taking."""
        return self._exposures.binned(shot_id, after, limit)

    def restore_exposure(self, shot_id: str, exposure_id: str) -> Exposure:
        """Back from the bin to its place."""
        return self._exposures.restore(shot_id, exposure_id)

    def empty_bin(self, shot_id: str) -> list[str]:
        """Remove what is in the bin for good. The one thing that cannot be undone."""
        gone = self._exposures.empty_bin(shot_id)
        with told_as_storage("removing previews"):
            self._parts.previews.forget(gone)
        return gone

    def put_verdict(self, exposure_id: str, verdict: Mapping[str, Any]) -> Exposure:
        """Keep what the watches say of an exposure."""
        return self._exposures.put_verdict(exposure_id, verdict)

    def original_path(self, shot_id: str, exposure_id: str, index: int = 0) -> Path:
        """Where an original lies."""
        return self._exposures.original(shot_id, exposure_id, index)[0]

    def preview(self, shot_id: str, exposure_id: str, width: int, index: int = 0) -> Path:
        """A JPEG of the next width of :data:`previews.WIDTHS`; raises ``no_preview``."""
        path, facts = self._exposures.original(shot_id, exposure_id, index)
        return self._parts.previews.preview(exposure_id, index, path, facts, width)

    def playback(
        self,
        shot_id: str,
        *,
        last: int | None = None,
        first: int | None = None,
        to: int | None = None,
        limit: int | None = None,
    ) -> Playback:
        """The frames to show, holds expanded."""
        return playback.playback(
            self._parts.database, shot_id, last=last, first=first, to=to, limit=limit
        )

    # Receipts

    def receipt(self, key: str) -> Receipt | None:
        """What was done under an Idempotency-Key."""
        return self._receipts.one(key)

    def claim_receipt(self, key: str, fingerprint: str) -> Receipt | None:
        """``None`` where the key is now ours, else the receipt that has it already."""
        return self._receipts.claim(key, fingerprint)

    def close_receipt(self, key: str, answer: Mapping[str, Any]) -> None:
        """Keep the answer that was given."""
        self._receipts.close(key, answer)

    def release_receipt(self, key: str) -> None:
        """Give a claimed key back where nothing was kept under it."""
        self._receipts.release(key)

    # The service's own

    def setting(self, name: str) -> Any:
        """A value (JSON), ``None`` where there is none."""
        return self._settings.setting(name)

    def put_setting(self, name: str, value: Any) -> None:
        """Keep a value (JSON)."""
        self._settings.put_setting(name, value)

    def add_session(self, token_hash: str, name: str, expires_at: datetime) -> Session:
        """Let a remote in until then."""
        return self._settings.add_session(token_hash, name, expires_at)

    def session(self, token_hash: str) -> Session | None:
        """The session with that token, unless it has expired."""
        return self._settings.session(token_hash)

    def sessions(self) -> list[Session]:
        """All sessions."""
        return self._settings.sessions()

    def remove_session(self, token_hash: str) -> None:
        """Let it in no longer."""
        self._settings.remove_session(token_hash)


def _assemble(folder: Path, clock: Clock, disk: Disk, lock: Lock) -> _Parts:
    shots_folder = folder / SHOTS_FOLDER
    migrate.prepare(folder / DATABASE_FILE, shots_folder, clock.now())
    disk.fsync_dir(folder)
    with suppress(OSError):  # a parent that may not be read cannot be flushed either
        disk.fsync_dir(folder.parent)
    database = Database(folder / DATABASE_FILE, disk)
    journal = Journal(disk)
    store = Store(shots_folder, disk)
    try:
        chronicle = Chronicle(database, journal, shots_folder, clock)
        swept = sweep(database, store, disk, chronicle.catch_up())
        editor = Editor(database, chronicle, clock)
    except BaseException:
        database.close()
        journal.close()
        store.close()
        raise
    return _Parts(
        lock=lock,
        database=database,
        journal=journal,
        store=store,
        keeper=Keeper(database, store, editor, clock),
        shots=Shots(database, store, chronicle, editor, clock),
        exposures=Exposures(database, store, chronicle, editor),
        editor=editor,
        previews=Previews(folder / PREVIEWS_FOLDER, disk),
        receipts=Receipts(database, clock),
        settings=Settings(database, clock),
        copies=Copies(database, clock),
        swept=swept,
    )
