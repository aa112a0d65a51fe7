"""Where an entry stands in the order of the work, if it was entered later than it was done."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    """Add the column, empty: every entry so far stands where it was entered."""
    op.add_column("entry", sa.Column("stands", sa.Double().with_variant(sa.REAL(), "sqlite")))
