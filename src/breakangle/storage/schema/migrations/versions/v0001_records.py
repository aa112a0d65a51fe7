"""The first schema: people, instruments, visits, entries, gauges, stock, prices, attachments, settings."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

Number: sa.types.TypeEngine[float] = sa.Double().with_variant(sa.REAL(), "sqlite")
STATES = "'waiting', 'on the bench', 'settling', 'ready', 'handed back'"


def upgrade() -> None:
    """Create the tables, and forbid the change of an entry."""
    _people_and_instruments()
    _shelf()
    _entries()
    _append_only()


def _text(name: str, null: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), nullable=null)


def _key(name: str, to: str, null: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), sa.ForeignKey(f"{to}.id"), nullable=null)


def _edited(name: str, *parts: sa.Column[str] | sa.Column[int] | sa.Column[float] | sa.Constraint) -> None:
    op.create_table(
        name,
        sa.Column("id", sa.Text(), primary_key=True),
        sa.Column("version", sa.Integer(), nullable=False),
        *(_text(one) for one in ("created_at", "created_by", "changed_at", "changed_by")),
        _text("deleted_at", null=True),
        *parts,
        sqlite_strict=True,
    )


def _index(table: str, column: str) -> None:
    op.create_index(f"ix_{table}_{column}", table, [column])


def _people_and_instruments() -> None:
    _edited("owner", _text("name"), _text("contact"), _text("notes"))
    _edited(
        "instrument",
        _key("owner_id", "owner", null=True),
        *(_text(one) for one in ("name", "kind", "body")),
        _text("targets", null=True),
        _text("notes"),
        sa.Column("playing_hours_per_week", Number),
        _text("strings_changed_at", null=True),
    )
    _edited(
        "visit",
        _key("instrument_id", "instrument"),
        sa.Column("number", sa.Integer(), nullable=False, unique=True),
        *(_text(one) for one in ("state", "body", "complaint", "notes")),
        sa.Column("humidity_percent", Number),
        sa.Column("temperature_c", Number),
        _text("opened_at"),
        _text("handed_back_at", null=True),
        sa.CheckConstraint(f"state IN ({STATES})", name="ck_visit_state"),
    )
    for table, column in (("instrument", "owner_id"), ("instrument", "name"), ("visit", "instrument_id")):
        _index(table, column)
    _index("visit", "state")


def _shelf() -> None:
    _edited("gauge", _text("name"), _text("quantity"), sa.Column("spread", Number), _text("notes"))
    _edited(
        "stock",
        _text("words"),
        _text("body"),
        sa.Column("held_count", sa.Integer(), nullable=False),
        sa.Column("least_count", sa.Integer(), nullable=False),
        sa.CheckConstraint("held_count >= 0", name="ck_stock_held_count"),
    )
    kinds = "kind IN ('labour', 'part')"
    _edited("price", _text("kind"), _text("words"), _text("amount"),
            sa.CheckConstraint(kinds, name="ck_price_kind"))  # fmt: skip
    _edited(
        "line",
        _key("visit_id", "visit"),
        *(_text(one) for one in ("kind", "words", "quantity", "amount")),
        sa.CheckConstraint(kinds, name="ck_line_kind"),
    )
    _edited(
        "attachment",
        _key("instrument_id", "instrument"),
        _key("visit_id", "visit", null=True),
        *(_text(one) for one in ("kind", "name", "media_type", "hash")),
        sa.Column("size_bytes", sa.Integer(), nullable=False),
        sa.CheckConstraint("kind IN ('recording', 'photograph')", name="ck_attachment_kind"),
    )
    _edited("setting", _text("value"))
    for table, column in (("line", "visit_id"), ("attachment", "instrument_id"), ("attachment", "visit_id")):
        _index(table, column)
    _index("attachment", "hash")


def _entries() -> None:
    op.create_table(
        "entry",
        sa.Column("id", sa.Text(), primary_key=True),
        _key("visit_id", "visit"),
        sa.Column("place", sa.Integer(), nullable=False),
        _text("kind"),
        _text("body", null=True),
        sa.Column("supersedes", sa.Text(), sa.ForeignKey("entry.id"), unique=True),
        _text("reason", null=True),
        _text("taken_at"),
        _text("taken_by"),
        _key("gauge_id", "gauge", null=True),
        sa.CheckConstraint("kind IN ('reading', 'adjustment')", name="ck_entry_kind"),
        sa.CheckConstraint("(supersedes IS NULL) = (reason IS NULL)", name="ck_entry_reason"),
        sa.CheckConstraint("body IS NOT NULL OR supersedes IS NOT NULL", name="ck_entry_body"),
        sqlite_strict=True,
    )
    op.create_index("ix_entry_visit", "entry", ["visit_id", "place"])
    first = sa.text("supersedes IS NULL")
    op.create_index("uq_entry_place", "entry", ["visit_id", "place"], unique=True,
                    sqlite_where=first, postgresql_where=first)  # fmt: skip
    op.create_table(
        "change",
        sa.Column("id", sa.Text(), primary_key=True),
        *(_text(one) for one in ("record_table", "record_id")),
        sa.Column("version", sa.Integer(), nullable=False),
        _text("body"),
        sa.UniqueConstraint("record_table", "record_id", "version", name="uq_change_version"),
        sqlite_strict=True,
    )
    op.create_table(
        "counter",
        sa.Column("name", sa.Text(), primary_key=True),
        sa.Column("last", sa.Integer(), nullable=False),
        sqlite_strict=True,
    )


def _append_only() -> None:
    """Let the database itself refuse to change a reading, whoever asks."""
    if op.get_bind().dialect.name == "sqlite":
        op.execute(
            "CREATE TRIGGER entry_stays BEFORE UPDATE ON entry "
            "BEGIN SELECT RAISE(ABORT, 'an entry is never changed, only superseded'); END"
        )
        return
    op.execute(
        "CREATE FUNCTION entry_stays() RETURNS trigger LANGUAGE plpgsql AS "
        "'BEGIN RAISE EXCEPTION ''an entry is never changed, only superseded''; END'"
    )
    op.execute(
        "CREATE TRIGGER entry_stays BEFORE UPDATE ON entry FOR EACH ROW EXECUTE FUNCTION entry_stays()"
    )
