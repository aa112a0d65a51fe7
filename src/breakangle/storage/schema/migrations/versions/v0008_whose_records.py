"""A name of the shop's own: with it an empty or foreign file beside its backups is noticed."""

from datetime import UTC, datetime

import sqlalchemy as sa
from alembic import op

from breakangle.storage.schema.stamp import new_id, utc_text

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    """Create the table, and name the shop once."""
    identity = op.create_table(
        "identity",
        sa.Column("id", sa.Text(), primary_key=True),
        sa.Column("made_at", sa.Text(), nullable=False),
        sqlite_strict=True,
    )
    now = datetime.now(UTC)
    op.get_bind().execute(sa.insert(identity).values(id=new_id(now), made_at=utc_text(now)))
