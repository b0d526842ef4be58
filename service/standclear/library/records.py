"""What the library hands out: plain frozen records, no live database objects."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Generic, TypeVar

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Page(Generic[T]):
    """One page of a list; ``next`` is the cursor for the following one, or ``None``."""

    items: Sequence[T]
    next: str | None = None


@dataclass(frozen=True, slots=True)
class Shot:
    """A shot. ``frame_rate`` is a rational as text (``"12"``, ``"24000/1001"``).

    ``undo_says`` and ``redo_says`` are short phrases ("delete exposure 7"), empty where there is
    nothing to undo or redo.
    """

    id: str
    name: str
    frame_rate: str
    notes: str
    exposure_count: int
    frame_count: int
    created_at: datetime
    folder: str
    revision: int
    can_undo: bool
    can_redo: bool
    undo_says: str
    redo_says: str


@dataclass(frozen=True, slots=True)
class OriginalFile:
    """One file as the camera gave it; ``name`` is its file name in the shot's folder."""

    id: str
    name: str
    media_type: str
    size: int
    sha256: str
    width: int | None
    height: int | None


@dataclass(frozen=True, slots=True)
class Exposure:
    """One photograph in a shot. ``number`` is its place from 1; ``None`` while in the bin.

    ``revision`` counts the edits of the exposure itself (hold, note, bin); a verdict, and a change
    of place because of its neighbours, are none. ``pair`` says what came of a second camera: its
    label as ``camera``, ``from_file`` (the index of its first original), ``spread_ms`` between the
    two pictures, its ``settings``.
    """

    id: str
    shot_id: str
    number: int | None
    hold: int
    note: str
    taken_at: datetime
    camera: str
    settings: Mapping[str, str]
    originals: tuple[OriginalFile, ...]
    verdict: Mapping[str, Any] | None
    revision: int
    binned_at: datetime | None = None
    pair: Mapping[str, Any] | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """An exposure in a shot's outline: what is needed of all of a long shot's exposures at once."""

    id: str
    number: int
    hold: int
    taken_at: datetime


@dataclass(frozen=True, slots=True)
class Judged:
    """A line of the outline with its verdict, for a report over a whole shot."""

    id: str
    number: int
    hold: int
    taken_at: datetime
    verdict: Mapping[str, Any] | None


@dataclass(frozen=True, slots=True)
class PlaybackFrame:
    """One tick of the film's time and the exposure shown in it (both counted from 1)."""

    frame: int
    exposure_id: str
    number: int


@dataclass(frozen=True, slots=True)
class Playback:
    """Frames to show in order, holds expanded. ``first`` is the frame that ``frames`` begins with
    (0 when there is none), ``frame_count`` that of the whole shot."""

    shot_id: str
    frame_rate: str
    frame_count: int
    first: int
    frames: tuple[PlaybackFrame, ...]


@dataclass(frozen=True, slots=True)
class Receipt:
    """What was done under one Idempotency-Key: the exposures kept so far, the answer once given."""

    key: str
    fingerprint: str
    exposure_ids: tuple[str, ...] = ()
    answer: Mapping[str, Any] | None = field(default=None)


@dataclass(frozen=True, slots=True)
class Session:
    """A paired remote or a script's token, by the hash of its secret."""

    token_hash: str
    name: str
    created_at: datetime
    expires_at: datetime


@dataclass(frozen=True, slots=True)
class Sweep:
    """What was left over by a process that died: half files removed, whole files with no record
    moved to ``unclaimed``, recorded files that are missing, journals brought up to date."""

    half_files: tuple[str, ...] = ()
    unclaimed: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    journals: tuple[str, ...] = ()
