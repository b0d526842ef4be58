"""Carrying one original, or one journal, to a second place: read, held against its record,
delivered, read back there, recorded.

Nothing at the place is ever overwritten but a journal by its own continuation. What differs from
what should be there is set aside under a name of its own.
"""

import hashlib
from pathlib import Path

from standclear.clock import Clock
from standclear.library import journal as journals
from standclear.library.copies import Copied, CopiedJournal, Copies
from standclear.library.failures import told_as_storage
from standclear.library.journal import JOURNAL_FILE
from standclear.library.library import SHOTS_FOLDER
from standclear.library.mirror.failures import CopyDiffers
from standclear.library.mirror.place import Place


class Carrier:
    """Carries files of one library to one place. ``key`` is the id that the place bears."""

    def __init__(self, copies: Copies, shots: Path, place: Place, clock: Clock) -> None:
        self._copies = copies
        self._shots = shots
        self._place = place
        self._clock = clock

    def original(self, key: str, original: Copied) -> None:
        """Copy one original and record it.

        Raises :class:`CopyDiffers` where the original here is not as it was kept: a copy of that
        is none. Raises kinds of :class:`StorageError` and :class:`CopyError`.
        """
        with told_as_storage("reading an original"):
            data = (self._shots / original.name).read_bytes()
        if hashlib.sha256(data).hexdigest() != original.sha256:
            raise CopyDiffers(
                f"{original.name} is not as it was kept, so it is not copied. "
                "Run `standclear check`; a copy made earlier is left as it is."
            )
        name = f"{SHOTS_FOLDER}/{original.name}"
        there = self._sha256_there(name)
        if there not in (None, original.sha256):
            self._place.set_aside(name, f"{name}.differs.{there}")
        if there != original.sha256:
            self._place.deliver(name, data)
        self._copies.verified(key, original)

    def _sha256_there(self, name: str) -> str | None:
        try:
            return self._place.sha256(name)
        except FileNotFoundError:
            return None

    def journal(self, key: str, known: CopiedJournal) -> bool:
        """Bring a shot's journal up to date there. False where it has nothing new to carry."""
        data = _whole_lines(self._shots / known.folder / JOURNAL_FILE)
        if not data or len(data) == known.size:
            return False
        name = f"{SHOTS_FOLDER}/{known.folder}/{JOURNAL_FILE}"
        if not self._goes_on_from(name, data, known):
            self._place.set_aside(name, f"{name}.{self._clock.now():%Y%m%dT%H%M%S%f}")
        self._place.deliver(name, data)
        digest, sequence = hashlib.sha256(data).hexdigest(), _last_number(data)
        now_there = CopiedJournal(known.shot, known.folder, sequence, len(data), digest)
        self._copies.journal_verified(key, now_there)
        return True

    def _goes_on_from(self, name: str, data: bytes, known: CopiedJournal) -> bool:
        """Whether the journal here begins with all that the place has."""
        if known.size:
            return hashlib.sha256(data[: known.size]).hexdigest() == known.sha256
        try:
            return data.startswith(self._place.read(name))
        except FileNotFoundError:
            return True


def _whole_lines(path: Path) -> bytes:
    """The journal as far as its last line is complete; another thread may be adding to it."""
    try:
        with told_as_storage("reading a journal"):
            data = path.read_bytes()
    except FileNotFoundError:
        return b""
    return data[: data.rfind(b"\n") + 1]


def _last_number(data: bytes) -> int:
    line = journals.parse(data[data.rfind(b"\n", 0, -1) + 1 :])
    return int(line["n"]) if line is not None else 0
