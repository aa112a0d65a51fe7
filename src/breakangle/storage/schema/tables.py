"""The schema: one for SQLite and PostgreSQL. Times are UTC text, prices exact decimal text, bodies JSON text.

Everything a person can edit carries a version and who changed it; entries (readings and adjustments) are never
changed, only superseded by another entry at the same place of the visit.
"""

from typing import Any

from sqlalchemy import (
    REAL,
    CheckConstraint,
    Column,
    Double,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)
from sqlalchemy.types import TypeEngine

from breakangle.storage.schema.column_types import Exact, Moment

STATES = ("waiting", "on the bench", "settling", "ready", "handed back")
LINE_KINDS = ("labour", "part")
ROLES = ("owner", "bench", "read-only")  # what a paired device may do
METADATA = MetaData(
    naming_convention={"ix": "ix_%(column_0_label)s", "ck": "ck_%(table_name)s_%(constraint_name)s"}
)
Number: TypeEngine[float] = Double().with_variant(REAL(), "sqlite")


def _one_of(column: str, words: tuple[str, ...]) -> CheckConstraint:
    return CheckConstraint(f"{column} IN ({', '.join(repr(one) for one in words)})", name=column)


def _edited(name: str, *parts: Any) -> Table:
    """Return a table of things that people edit, delete and restore."""
    return Table(
        name,
        METADATA,
        Column("id", Text, primary_key=True),
        Column("version", Integer, nullable=False),
        Column("created_at", Moment, nullable=False),
        Column("created_by", Text, nullable=False),
        Column("changed_at", Moment, nullable=False),
        Column("changed_by", Text, nullable=False),
        Column("deleted_at", Moment),
        *parts,
        sqlite_strict=True,
    )


def _words(name: str) -> Column[str]:
    return Column(name, Text, nullable=False)


OWNER = _edited("owner", _words("name"), _words("contact"), _words("notes"), Column("hand", Text))
INSTRUMENT = _edited(
    "instrument",
    Column("owner_id", Text, ForeignKey("owner.id"), index=True),
    Column("name", Text, nullable=False, index=True),
    _words("kind"),
    _words("body"),
    Column("targets", Text),
    _words("notes"),
    Column("playing_hours_per_week", Number),
    Column("strings_changed_at", Moment),
    Column("hand", Text),  # how strongly it is played; null: nobody has said
)
VISIT = _edited(
    "visit",
    Column("instrument_id", Text, ForeignKey("instrument.id"), nullable=False, index=True),
    Column("number", Integer, nullable=False, unique=True),
    Column("state", Text, nullable=False, index=True),
    _words("body"),
    _words("complaint"),
    _words("notes"),
    Column("humidity_percent", Number),
    Column("temperature_c", Number),
    Column("opened_at", Moment, nullable=False),
    Column("handed_back_at", Moment),
    Column("moved_at", Moment),  # into its state; null: never moved, or before this was kept
    Column("promised_on", Text),  # the day it was promised for, as 2027-03-01
    Column("owner_words", Text),  # what the owner's sheet says besides; notes never go there
    Column("closed_at", Moment),  # frozen since; null: open
    Column("amending", Text),  # why a closed one is open once more
    _one_of("state", STATES),
)
Index("ix_instrument_standing", INSTRUMENT.c.deleted_at, INSTRUMENT.c.id)
Index("ix_visit_worklist", VISIT.c.state, VISIT.c.handed_back_at)
Index("ix_visit_room", VISIT.c.opened_at, VISIT.c.humidity_percent, VISIT.c.deleted_at)
GAUGE = _edited("gauge", _words("name"), _words("quantity"), Column("spread", Number), _words("notes"))
STOCK = _edited(
    "stock",
    _words("words"),
    _words("body"),
    Column("held_count", Integer, nullable=False),
    Column("least_count", Integer, nullable=False),
    CheckConstraint("held_count >= 0", name="held_count"),
)
PRICE = _edited(
    "price", _words("kind"), _words("words"), Column("amount", Exact, nullable=False), _one_of("kind", LINE_KINDS)
)  # fmt: skip
LINE = _edited(
    "line",
    Column("visit_id", Text, ForeignKey("visit.id"), nullable=False, index=True),
    _words("kind"),
    _words("words"),
    Column("quantity", Exact, nullable=False),
    Column("amount", Exact, nullable=False),
    _one_of("kind", LINE_KINDS),
)
ATTACHMENT = _edited(
    "attachment",
    Column("instrument_id", Text, ForeignKey("instrument.id"), nullable=False, index=True),
    Column("visit_id", Text, ForeignKey("visit.id"), index=True),
    _words("kind"),
    _words("name"),
    _words("media_type"),
    Column("hash", Text, nullable=False, index=True),
    Column("size_bytes", Integer, nullable=False),
    Column("caption", Text),
    Column("marks", Text),  # JSON: what a finger has marked on a photograph
    Column("shown", Text),  # before or after: on the owner's sheet there; null: not on it
    Column("pair_id", Text),  # of one shown after: the one shown before that it stands beside
    _one_of("kind", ("recording", "photograph")),
)
CLOSING = _edited(
    "closing",
    Column("visit_id", Text, ForeignKey("visit.id"), nullable=False, index=True),
    Column("number", Integer, nullable=False),
    *map(_words, ("reason", "signed_by", "body", "pdf_hash", "html_hash")),
    UniqueConstraint("visit_id", "number", name="uq_closing_number"),
)
BLOB_HASHES = (ATTACHMENT.c.hash, CLOSING.c.pdf_hash, CLOSING.c.html_hash)
SETTING = _edited("setting", _words("value"))
DEVICE = _edited(
    "device",
    _words("name"),
    _words("role"),
    Column("token_hash", Text, nullable=False, unique=True),
    Column("last_seen_at", Moment),
    Column("person", Text),  # who uses it, whose name all carries that is stored from it; null: not said
    _one_of("role", ROLES),
)
PROCEDURE = _edited("procedure", _words("name"), _words("body"))
RUN = _edited(
    "run",
    Column("visit_id", Text, ForeignKey("visit.id"), nullable=False, index=True),
    _words("procedure"),
    _words("body"),
)
USED = _edited(
    "used",
    Column("visit_id", Text, ForeignKey("visit.id"), nullable=False, index=True),
    Column("stock_id", Text, ForeignKey("stock.id"), index=True),
    _words("words"),
    Column("count", Integer, nullable=False),
    Column("amount", Exact),
    CheckConstraint("count > 0", name="count"),
)
ENTRY = Table(
    "entry",
    METADATA,
    Column("id", Text, primary_key=True),
    Column("visit_id", Text, ForeignKey("visit.id"), nullable=False),
    Column("place", Integer, nullable=False),
    Column("kind", Text, nullable=False),
    Column("body", Text),  # null: withdrawn
    Column("supersedes", Text, ForeignKey("entry.id"), unique=True),
    Column("reason", Text),
    Column("taken_at", Moment, nullable=False),
    Column("taken_by", Text, nullable=False),
    Column("gauge_id", Text, ForeignKey("gauge.id")),
    Column("stands", Number),  # between which places it stands, if it was entered late; null: at its own
    Column("entered_at", Moment),  # where that was later than it was taken; null: at once
    _one_of("kind", ("reading", "adjustment")),
    CheckConstraint("(supersedes IS NULL) = (reason IS NULL)", name="reason"),
    CheckConstraint("body IS NOT NULL OR supersedes IS NOT NULL", name="body"),
    sqlite_strict=True,
)
Index("ix_entry_visit", ENTRY.c.visit_id, ENTRY.c.place)
FIRST_AT_PLACE = ENTRY.c.supersedes.is_(None)
Index("uq_entry_place", ENTRY.c.visit_id, ENTRY.c.place, unique=True,
      sqlite_where=FIRST_AT_PLACE, postgresql_where=FIRST_AT_PLACE)  # fmt: skip
CHANGE = Table(
    "change",
    METADATA,
    Column("id", Text, primary_key=True),
    Column("record_table", Text, nullable=False),
    Column("record_id", Text, nullable=False),
    Column("version", Integer, nullable=False),
    Column("body", Text, nullable=False),
    UniqueConstraint("record_table", "record_id", "version", name="uq_change_version"),
    sqlite_strict=True,
)
COUNTER = Table(
    "counter",
    METADATA,
    Column("name", Text, primary_key=True),
    Column("last", Integer, nullable=False),
    sqlite_strict=True,
)
PAIRING = Table(
    "pairing",
    METADATA,
    Column("code_hash", Text, primary_key=True),
    Column("role", Text, nullable=False),
    Column("expires_at", Moment, nullable=False),
    Column("used_at", Moment),
    Column("made_by", Text, nullable=False),
    Column("tries", Integer, nullable=False),
    _one_of("role", ROLES),
    sqlite_strict=True,
)
ANSWERED = Table(
    "answered",
    METADATA,
    Column("key", Text, primary_key=True),
    Column("at", Moment, nullable=False, index=True),
    Column("answer", Text, nullable=False),
    sqlite_strict=True,
)
LEARNED = Table(
    "learned",
    METADATA,
    Column("instrument_id", Text, ForeignKey("instrument.id"), primary_key=True),
    Column("kind", Text, nullable=False, index=True),
    Column("fingerprint", Text, nullable=False),
    Column("body", Text, nullable=False),
    sqlite_strict=True,
)
RECKONED = Table(
    "reckoned",
    METADATA,
    Column("instrument_id", Text, ForeignKey("instrument.id"), primary_key=True),
    Column("room", Text, nullable=False),
    sqlite_strict=True,
)
COMING = Table(
    "coming",
    METADATA,
    Column("instrument_id", Text, ForeignKey("instrument.id"), primary_key=True),
    Column("what", Text, primary_key=True),
    Column("due_on", Text, nullable=False, index=True),
    Column("why", Text, nullable=False),
    sqlite_strict=True,
)
FOUND = Table(
    "found",
    METADATA,
    Column("number", Integer, primary_key=True),
    Column("record_table", Text, nullable=False),
    Column("record_id", Text, nullable=False, unique=True),
    Column("words", Text, nullable=False),
    sqlite_strict=True,
)
IDENTITY = Table(
    "identity",
    METADATA,
    Column("id", Text, primary_key=True),
    Column("made_at", Moment, nullable=False),
    sqlite_strict=True,
)
EDITED = {
    one.name: one
    for one in (OWNER, INSTRUMENT, VISIT, GAUGE, STOCK, PRICE, LINE, ATTACHMENT, SETTING, DEVICE, PROCEDURE,
                RUN, USED, CLOSING)
}  # fmt: skip
# Who may come in is this shop's alone: it has no journal, and never leaves in an export.
PRIVATE = (DEVICE.name, PAIRING.name)
