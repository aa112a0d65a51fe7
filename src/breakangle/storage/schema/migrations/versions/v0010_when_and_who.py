"""When a reading or an adjustment was entered, if that was later than it happened; who uses a paired device."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"


def upgrade() -> None:
    """Add the columns, empty: every entry so far was made when it was entered, and of no device a person was told."""
    op.add_column("entry", sa.Column("entered_at", sa.Text()))
    op.add_column("device", sa.Column("person", sa.Text()))
