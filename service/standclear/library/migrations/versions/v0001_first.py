"""The first version of the library's database.

Times are text (see ``schema.Utc``); they stand here as plain strings, so that a migration never
changes its meaning with the program.
"""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make all tables."""
    _shots()
    _exposures()
    _originals_and_edits()
    _receipts()
    _service()


def _shots() -> None:
    op.create_table(
        "shots",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("serial", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("frame_rate", sa.String(length=32), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("folder", sa.Text(), nullable=False),
        sa.Column("stem", sa.Text(), nullable=False),
        sa.Column("created_at", sa.String(length=32), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("exposure_count", sa.Integer(), nullable=False),
        sa.Column("frame_count", sa.Integer(), nullable=False),
        sa.Column("next_serial", sa.Integer(), nullable=False),
        sa.Column("edit_done", sa.Integer(), nullable=False),
        sa.Column("journal_seq", sa.Integer(), nullable=False),
        sa.Column("plan", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("plan_revision", sa.Integer(), nullable=False),
        sa.Column("binned_at", sa.String(length=32), nullable=True),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("folder"),
        sa.UniqueConstraint("serial"),
    )


def _exposures() -> None:
    op.create_table(
        "exposures",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("shot_id", sa.String(length=32), nullable=False),
        sa.Column("serial", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=True),
        sa.Column("last_number", sa.Integer(), nullable=False),
        sa.Column("hold", sa.Integer(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("taken_at", sa.String(length=32), nullable=False),
        sa.Column("kept_at", sa.String(length=32), nullable=False),
        sa.Column("camera", sa.Text(), nullable=False),
        sa.Column("settings", sa.JSON(), nullable=False),
        sa.Column("verdict", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("binned_at", sa.String(length=32), nullable=True),
        sa.ForeignKeyConstraint(["shot_id"], ["shots.id"]),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("shot_id", "serial", name="exposures_by_serial"),
    )
    op.create_index("exposures_in_order", "exposures", ["shot_id", "number", "hold"])


def _originals_and_edits() -> None:
    op.create_table(
        "originals",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("exposure_id", sa.String(length=32), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("media_type", sa.Text(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("width", sa.Integer(), nullable=True),
        sa.Column("height", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["exposure_id"], ["exposures.id"]),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("exposure_id", "position", name="originals_by_exposure"),
    )
    op.create_table(
        "edits",
        sa.Column("shot_id", sa.String(length=32), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("says", sa.Text(), nullable=False),
        sa.Column("forward", sa.JSON(), nullable=False),
        sa.Column("backward", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["shot_id"], ["shots.id"]),
        sa.PrimaryKeyConstraint("shot_id", "seq"),
    )


def _receipts() -> None:
    op.create_table(
        "receipt_exposures",
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("exposure_id", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("key", "position"),
    )
    op.create_table(
        "receipts",
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("fingerprint", sa.Text(), nullable=False),
        sa.Column("answer", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("created_at", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("key"),
    )
    op.create_index("ix_receipts_created_at", "receipts", ["created_at"])


def _service() -> None:
    op.create_table(
        "sessions",
        sa.Column("token_hash", sa.String(length=128), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("created_at", sa.String(length=32), nullable=False),
        sa.Column("expires_at", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("token_hash"),
    )
    op.create_table(
        "settings",
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("name"),
    )
