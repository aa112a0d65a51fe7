"""Closed visits and their finished sheets, a promised day, strengths of play, captions and marks of photographs."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"

ADDED = {
    "owner": ("hand",),
    "instrument": ("hand",),
    "visit": ("promised_on", "owner_words", "closed_at", "amending"),
    "attachment": ("caption", "marks", "shown"),
}


def upgrade() -> None:
    """Add what may be empty; a visit handed back before this stays open to corrections, as it was."""
    for table, columns in ADDED.items():
        for name in columns:
            op.add_column(table, sa.Column(name, sa.Text()))
    op.create_table(
        "closing",
        sa.Column("id", sa.Text(), primary_key=True),
        sa.Column("version", sa.Integer(), nullable=False),
        *(_text(one) for one in ("created_at", "created_by", "changed_at", "changed_by")),
        sa.Column("deleted_at", sa.Text()),
        sa.Column("visit_id", sa.Text(), sa.ForeignKey("visit.id"), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        *(_text(one) for one in ("reason", "signed_by", "body", "pdf_hash", "html_hash")),
        sa.UniqueConstraint("visit_id", "number", name="uq_closing_number"),
        sqlite_strict=True,
    )
    op.create_index("ix_closing_visit_id", "closing", ["visit_id"])
    _stays()


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), nullable=False)


def _stays() -> None:
    """Let the database itself refuse to change a closed sheet, whoever asks."""
    said = "a closed sheet is never changed, only amended"
    if op.get_bind().dialect.name == "sqlite":
        op.execute(
            f"CREATE TRIGGER closing_stays BEFORE UPDATE ON closing BEGIN SELECT RAISE(ABORT, '{said}'); END"
        )
        return
    op.execute(
        "CREATE FUNCTION closing_stays() RETURNS trigger LANGUAGE plpgsql AS "
        f"'BEGIN RAISE EXCEPTION ''{said}''; END'"
    )
    op.execute(
        "CREATE TRIGGER closing_stays BEFORE UPDATE ON closing FOR EACH ROW EXECUTE FUNCTION closing_stays()"
    )
