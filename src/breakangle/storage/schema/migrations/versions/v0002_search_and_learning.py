"""Search over all words, and what each neck has taught."""

import unicodedata

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

# Records that stood here before could not be searched: their words come in by themselves.
BEFORE = (
    ("owner", "name || ' ' || contact || ' ' || notes"),
    ("instrument", "name || ' ' || kind || ' ' || notes"),
    ("visit", "complaint || ' ' || notes"),
)


def upgrade() -> None:
    """Create what was learned, and the words to search in."""
    op.create_table(
        "learned",
        sa.Column("instrument_id", sa.Text(), sa.ForeignKey("instrument.id"), primary_key=True),
        *(sa.Column(one, sa.Text(), nullable=False) for one in ("kind", "fingerprint", "body")),
        sqlite_strict=True,
    )
    op.create_index("ix_learned_kind", "learned", ["kind"])
    op.create_table(
        "found",
        sa.Column("number", sa.Integer(), primary_key=True),
        sa.Column("record_table", sa.Text(), nullable=False),
        sa.Column("record_id", sa.Text(), nullable=False, unique=True),
        sa.Column("words", sa.Text(), nullable=False),
        sqlite_strict=True,
    )
    if op.get_bind().dialect.name == "sqlite":
        _sqlite()
    else:
        op.execute("CREATE INDEX ix_found_words ON found USING gin (to_tsvector('simple', words))")
    _words_before()


def _words_before() -> None:
    """Make what was stored before findable, without case and accents."""
    bind = op.get_bind()
    put = sa.text("INSERT INTO found (record_table, record_id, words) VALUES (:table, :id, :words)")
    for table, words in BEFORE:
        for key, said in bind.execute(sa.text(f"SELECT id, {words} FROM {table}")).all():
            apart = unicodedata.normalize("NFKD", said.casefold())
            plain = "".join(sign for sign in apart if not unicodedata.combining(sign))
            bind.execute(put, {"table": table, "id": key, "words": plain})


def _sqlite() -> None:
    op.execute(
        "CREATE VIRTUAL TABLE found_words USING fts5(words, content='found', content_rowid='number', "
        "tokenize='unicode61 remove_diacritics 2', prefix='2 3')"
    )
    gone = "INSERT INTO found_words (found_words, rowid, words) VALUES ('delete', old.number, old.words);"
    come = "INSERT INTO found_words (rowid, words) VALUES (new.number, new.words);"
    for name, when, what in (
        ("come", "INSERT", come),
        ("gone", "DELETE", gone),
        ("new", "UPDATE", gone + come),
    ):
        op.execute(f"CREATE TRIGGER found_{name} AFTER {when} ON found BEGIN {what} END")
