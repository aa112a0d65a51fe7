"""Search by words, each a beginning of a word: FTS5 on SQLite, text search on PostgreSQL."""

import heapq
import json
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any

from sqlalchemy import Connection, Text, delete, insert, select, text, type_coerce

from breakangle.model.identity_marks import identity_marks
from breakangle.storage.schema.tables import ENTRY, FOUND, METADATA, VISIT

# What of a record is searched; a table not named here is not.
SEARCHED = {
    "owner": ("name", "contact", "notes"),
    "instrument": ("name", "kind", "notes", "body"),  # of the body, serial number and tag
    "visit": ("complaint", "notes"),
    "line": ("words",),
    "stock": ("words",),
    "attachment": ("name",),
}
PORTION = 500  # records at once: a database takes only so many
WORD = re.compile(r"[^\W_]+", re.UNICODE)
SQLITE = text(
    "SELECT f.record_table, f.record_id, f.words FROM found_words w JOIN found f ON f.number = w.rowid "
    "WHERE found_words MATCH :asked ORDER BY w.rowid DESC LIMIT :most"
)
POSTGRESQL = text(
    "SELECT record_table, record_id, words FROM found "
    "WHERE to_tsvector('simple', words) @@ to_tsquery('simple', :asked) ORDER BY number DESC LIMIT :most"
)


@dataclass(frozen=True)
class Hit:
    """A record that was found: its table, its name, and the words it was found by."""

    record_table: str
    record_id: str
    words: str


def keep_words(connection: Connection, table: str, record: Any) -> None:
    """Make the record found by its words as they stand now."""
    if table not in SEARCHED:
        return
    done: list[str] = []
    if table == "visit":
        done = _work_of(connection, [record.id]).get(record.id, [])
    forget_words(connection, record.id)
    row = {"record_table": table, "record_id": record.id, "words": _words(table, vars(record), done)}
    connection.execute(insert(FOUND).values(row))


def keep_new_words(connection: Connection, table: str, rows: Sequence[Mapping[str, Any]]) -> None:
    """Make records that are new here found by their words; of visits, not yet by their work."""
    if table in SEARCHED and rows:
        connection.execute(
            insert(FOUND),
            [
                {"record_table": table, "record_id": row["id"], "words": _words(table, row, ())}
                for row in rows
            ],
        )


def keep_visit_words(connection: Connection, keys: Sequence[str]) -> None:
    """Make these visits found by their words and their work as they stand now; deleted ones not."""
    named = select(VISIT).where(VISIT.c.id.in_(keys), VISIT.c.deleted_at.is_(None))
    done = _work_of(connection, keys)
    connection.execute(delete(FOUND).where(FOUND.c.record_id.in_(keys)))
    rows = [
        {
            "record_table": "visit",
            "record_id": row["id"],
            "words": _words("visit", dict(row), done.get(row["id"], ())),
        }
        for row in connection.execute(named).mappings()
    ]
    if rows:
        connection.execute(insert(FOUND), rows)


def keep_all_words(connection: Connection) -> None:
    """Make everything found by its words as they stand now, what was changed last before the rest; deleted things not.

    Whatever was kept by other rules before is gone.
    """
    connection.execute(delete(FOUND))
    rows = heapq.merge(*(_searched(connection, name) for name in SEARCHED), key=lambda row: row["at"])
    while chunk := list(islice(rows, PORTION)):
        done = _work_of(connection, [row["id"] for row in chunk if row["table"] == VISIT.name])
        words = [_words(row["table"], row, done.get(row["id"], ())) for row in chunk]
        connection.execute(
            insert(FOUND),
            [
                {"record_table": row["table"], "record_id": row["id"], "words": one}
                for row, one in zip(chunk, words, strict=True)
            ],
        )


def _searched(connection: Connection, name: str) -> Iterator[dict[str, Any]]:
    """Yield what of a table's records is searched, in the order they were changed."""
    table = METADATA.tables[name]
    columns = [table.c[one] for one in SEARCHED[name]]
    wanted = (
        select(table.c.id, type_coerce(table.c.changed_at, Text).label("at"), *columns)
        .where(table.c.deleted_at.is_(None))
        .order_by(table.c.changed_at, table.c.id)
    )
    for row in connection.execute(wanted).mappings():
        yield {**row, "table": name}


def _words(table: str, row: Mapping[str, Any], done: Iterable[str]) -> str:
    told = (_marks(row["body"]) if name == "body" else str(row[name]) for name in SEARCHED[table])
    return folded(" ".join([*told, *done])).strip()


def _marks(body: str) -> str:
    """Return the serial number and the tag of an instrument, word by word: a server reads A-12 as A and -12."""
    return " ".join(WORD.findall(" ".join(identity_marks(json.loads(body)).values())))


def _work_of(connection: Connection, keys: Sequence[str]) -> dict[str, list[str]]:
    """Return what kinds of work stand at these visits: what was undone or corrected was not done."""
    later = ENTRY.alias()
    made = (
        select(ENTRY.c.visit_id, ENTRY.c.body)
        .outerjoin(later, later.c.supersedes == ENTRY.c.id)
        .where(
            ENTRY.c.visit_id.in_(keys),
            ENTRY.c.kind == "adjustment",
            ENTRY.c.body.is_not(None),
            later.c.id.is_(None),
        )
    )
    found: dict[str, set[str]] = {}
    for key, body in connection.execute(made):
        found.setdefault(key, set()).add(str(json.loads(body).get("adjust", "")))
    return {key: sorted(words) for key, words in found.items()}


def folded(words: str) -> str:
    """Return `words` without case and accents, so that Ase finds Åse on either engine."""
    apart = unicodedata.normalize("NFKD", words.casefold())
    return "".join(sign for sign in apart if not unicodedata.combining(sign))


def forget_words(connection: Connection, record_id: str) -> None:
    """Make the record no longer found."""
    connection.execute(delete(FOUND).where(FOUND.c.record_id == record_id))


def search(connection: Connection, words: str, most: int = 50) -> tuple[Hit, ...]:
    """Return the newest records that hold every one of `words`, each as the beginning of a word."""
    asked = WORD.findall(folded(words))
    if not asked:
        return ()
    if connection.dialect.name == "sqlite":
        query, joined = SQLITE, " ".join(f'"{word}"*' for word in asked)
    else:
        query, joined = POSTGRESQL, " & ".join(f"{word}:*" for word in asked)
    rows = connection.execute(query, {"asked": joined, "most": most})
    return tuple(Hit(*row) for row in rows)
