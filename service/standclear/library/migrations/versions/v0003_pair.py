"""What a second camera gave with the same press, and how far apart the two pictures are."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """One column, empty for every exposure that is there."""
    op.add_column("exposures", sa.Column("pair", sa.JSON(), nullable=True))
