"""Which photograph taken before one taken after belongs to, so that both are shown side by side."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    """Add the column, empty: nobody has paired any yet."""
    op.add_column("attachment", sa.Column("pair_id", sa.Text()))
