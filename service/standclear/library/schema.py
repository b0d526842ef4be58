"""The tables of ``library.db``. Times are UTC as ISO 8601 text; ids are random hex.

``number`` is an exposure's place in its shot, contiguous from 1, ``NULL`` in the bin. The counts
on a shot repeat what its exposures say, so that a long shot costs no more than a short one.
"""

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, String, Text, UniqueConstraint
from sqlalchemy.engine import Dialect
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column
from sqlalchemy.types import TypeDecorator


class Utc(TypeDecorator[datetime]):
    """A UTC time as text of one length, so that text order is time order."""

    impl = String(32)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:
        """To text; a time without a zone is taken as UTC."""
        if value is None:
            return None
        aware = value if value.tzinfo else value.replace(tzinfo=UTC)
        return aware.astimezone(UTC).isoformat(timespec="microseconds")

    def process_result_value(self, value: str | None, dialect: Dialect) -> datetime | None:
        """From text."""
        return None if value is None else datetime.fromisoformat(value)


class Base(DeclarativeBase):
    """All tables."""


class ShotRow(Base):
    """A shot. ``edit_done``: last edit not undone. ``journal_seq``: last line of its journal."""

    __tablename__ = "shots"

    id: Mapped[str] = mapped_column(String(32), primary_key=True)
    serial: Mapped[int] = mapped_column(unique=True)
    name: Mapped[str] = mapped_column(Text)
    frame_rate: Mapped[str] = mapped_column(String(32))
    notes: Mapped[str] = mapped_column(Text)
    folder: Mapped[str] = mapped_column(Text, unique=True)
    stem: Mapped[str] = mapped_column(Text)
    created_at: Mapped[datetime] = mapped_column(Utc)
    revision: Mapped[int]
    exposure_count: Mapped[int]
    frame_count: Mapped[int]
    next_serial: Mapped[int]
    edit_done: Mapped[int]
    journal_seq: Mapped[int]
    plan: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
    plan_revision: Mapped[int]
    binned_at: Mapped[datetime | None] = mapped_column(Utc)


class ExposureRow(Base):
    """One exposure. ``serial`` is the order of taking, ``last_number`` the place it last had."""

    __tablename__ = "exposures"
    __table_args__ = (
        # Covers the walk over holds that playback does.
        Index("exposures_in_order", "shot_id", "number", "hold"),
        UniqueConstraint("shot_id", "serial", name="exposures_by_serial"),
    )

    id: Mapped[str] = mapped_column(String(32), primary_key=True)
    shot_id: Mapped[str] = mapped_column(ForeignKey("shots.id"))
    serial: Mapped[int]
    number: Mapped[int | None]
    last_number: Mapped[int]
    hold: Mapped[int]
    note: Mapped[str] = mapped_column(Text)
    taken_at: Mapped[datetime] = mapped_column(Utc)
    kept_at: Mapped[datetime] = mapped_column(Utc)
    camera: Mapped[str] = mapped_column(Text)
    settings: Mapped[Any] = mapped_column(JSON)
    verdict: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
    pair: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
    revision: Mapped[int]
    binned_at: Mapped[datetime | None] = mapped_column(Utc)


class OriginalRow(Base):
    """One file of an exposure, as the camera gave it."""

    __tablename__ = "originals"
    __table_args__ = (UniqueConstraint("exposure_id", "position", name="originals_by_exposure"),)

    id: Mapped[str] = mapped_column(String(32), primary_key=True)
    exposure_id: Mapped[str] = mapped_column(ForeignKey("exposures.id"))
    position: Mapped[int]
    name: Mapped[str] = mapped_column(Text)
    media_type: Mapped[str] = mapped_column(Text)
    size: Mapped[int]
    sha256: Mapped[str] = mapped_column(String(64))
    width: Mapped[int | None]
    height: Mapped[int | None]


class EditRow(Base):
    """One edit: what it does and what takes it back, as steps (see ``steps.py``)."""

    __tablename__ = "edits"

    shot_id: Mapped[str] = mapped_column(ForeignKey("shots.id"), primary_key=True)
    seq: Mapped[int] = mapped_column(primary_key=True)
    says: Mapped[str] = mapped_column(Text)
    forward: Mapped[Any] = mapped_column(JSON)
    backward: Mapped[Any] = mapped_column(JSON)


class ReceiptRow(Base):
    """One Idempotency-Key and the answer given under it."""

    __tablename__ = "receipts"

    key: Mapped[str] = mapped_column(Text, primary_key=True)
    fingerprint: Mapped[str] = mapped_column(Text)
    answer: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
    created_at: Mapped[datetime] = mapped_column(Utc, index=True)


class ReceiptExposureRow(Base):
    """The exposures kept under a key, in order."""

    __tablename__ = "receipt_exposures"

    key: Mapped[str] = mapped_column(Text, primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True)
    exposure_id: Mapped[str] = mapped_column(String(32))


class CopyRow(Base):
    """An original that a second place holds, verified. ``gone``: the bin was emptied of it since,
    and the copy is to go too. ``name`` is ``<shot folder>/<file>``; ``place`` the place's own id.
    No foreign keys: a copy outlives what it is a copy of."""

    __tablename__ = "copies"

    place: Mapped[str] = mapped_column(String(32), primary_key=True)
    original_id: Mapped[str] = mapped_column(String(32), primary_key=True)
    name: Mapped[str] = mapped_column(Text)
    sha256: Mapped[str] = mapped_column(String(64))
    verified_at: Mapped[datetime] = mapped_column(Utc)
    gone: Mapped[bool]


class CopiedJournalRow(Base):
    """How much of a shot's journal a second place holds: its first ``size`` bytes, up to the line
    numbered ``sequence``."""

    __tablename__ = "copied_journals"

    place: Mapped[str] = mapped_column(String(32), primary_key=True)
    shot_id: Mapped[str] = mapped_column(String(32), primary_key=True)
    sequence: Mapped[int]
    size: Mapped[int]
    sha256: Mapped[str] = mapped_column(String(64))


class SessionRow(Base):
    """A paired remote or a script's token; only the token's hash is kept."""

    __tablename__ = "sessions"

    token_hash: Mapped[str] = mapped_column(String(128), primary_key=True)
    name: Mapped[str] = mapped_column(Text)
    created_at: Mapped[datetime] = mapped_column(Utc)
    expires_at: Mapped[datetime] = mapped_column(Utc)


class SettingRow(Base):
    """The service's own settings, by name."""

    __tablename__ = "settings"

    name: Mapped[str] = mapped_column(Text, primary_key=True)
    value: Mapped[Any] = mapped_column(JSON)
