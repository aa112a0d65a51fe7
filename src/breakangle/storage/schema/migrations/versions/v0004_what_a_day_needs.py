"""What a day's list needs at hand: what comes due as it was reckoned, and since when a visit is in its state."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Create the two tables, empty: everything is reckoned when it is first asked for."""
    op.add_column("visit", sa.Column("moved_at", sa.Text()))
    op.create_table(
        "reckoned",
        sa.Column("instrument_id", sa.Text(), sa.ForeignKey("instrument.id"), primary_key=True),
        sa.Column("room", sa.Text(), nullable=False),
        sqlite_strict=True,
    )
    op.create_table(
        "coming",
        sa.Column("instrument_id", sa.Text(), sa.ForeignKey("instrument.id"), primary_key=True),
        sa.Column("what", sa.Text(), primary_key=True),
        *(sa.Column(one, sa.Text(), nullable=False) for one in ("due_on", "why")),
        sqlite_strict=True,
    )
    op.create_index("ix_coming_due_on", "coming", ["due_on"])
    op.create_index("ix_visit_room", "visit", ["opened_at", "humidity_percent", "deleted_at"])
    op.create_index("ix_instrument_standing", "instrument", ["deleted_at", "id"])
    op.create_index("ix_visit_worklist", "visit", ["state", "handed_back_at"])
