"""Devices and their pairing, answered writes, procedures and their runs, and what a visit used."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"

ROLES = "role IN ('owner', 'bench', 'read-only')"


def upgrade() -> None:
    """Create the tables; nothing that stands here is touched."""
    _edited("device", _text("name"), _text("role"), sa.Column("token_hash", sa.Text(), nullable=False, unique=True),
            _text("last_seen_at", null=True), sa.CheckConstraint(ROLES, name="ck_device_role"))  # fmt: skip
    _edited("procedure", _text("name"), _text("body"))
    _edited("run", _key("visit_id", "visit"), _text("procedure"), _text("body"))
    _edited(
        "used",
        _key("visit_id", "visit"),
        _key("stock_id", "stock", null=True),
        _text("words"),
        sa.Column("count", sa.Integer(), nullable=False),
        _text("amount", null=True),
        sa.CheckConstraint("count > 0", name="ck_used_count"),
    )
    for table, column in (("run", "visit_id"), ("used", "visit_id"), ("used", "stock_id")):
        op.create_index(f"ix_{table}_{column}", table, [column])
    op.create_table(
        "pairing",
        sa.Column("code_hash", sa.Text(), primary_key=True),
        *(_text(one) for one in ("role", "expires_at")),
        _text("used_at", null=True),
        _text("made_by"),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.CheckConstraint(ROLES, name="ck_pairing_role"),
        sqlite_strict=True,
    )
    op.create_table(
        "answered",
        sa.Column("key", sa.Text(), primary_key=True),
        *(_text(one) for one in ("at", "answer")),
        sqlite_strict=True,
    )
    op.create_index("ix_answered_at", "answered", ["at"])


def _text(name: str, null: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), nullable=null)


def _key(name: str, to: str, null: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), sa.ForeignKey(f"{to}.id"), nullable=null)


def _edited(name: str, *parts: sa.Column[str] | sa.Column[int] | sa.Constraint) -> None:
    op.create_table(
        name,
        sa.Column("id", sa.Text(), primary_key=True),
        sa.Column("version", sa.Integer(), nullable=False),
        *(_text(one) for one in ("created_at", "created_by", "changed_at", "changed_by")),
        _text("deleted_at", null=True),
        *parts,
        sqlite_strict=True,
    )
