"""What a second place has been verified to hold: originals, and how much of each journal."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Two tables; nothing that was there is touched."""
    op.create_table(
        "copies",
        sa.Column("place", sa.String(length=32), nullable=False),
        sa.Column("original_id", sa.String(length=32), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("verified_at", sa.String(length=32), nullable=False),
        sa.Column("gone", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("place", "original_id"),
    )
    op.create_table(
        "copied_journals",
        sa.Column("place", sa.String(length=32), nullable=False),
        sa.Column("shot_id", sa.String(length=32), nullable=False),
        sa.Column("sequence", sa.Integer(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.PrimaryKeyConstraint("place", "shot_id"),
    )
