"""Visits that are closed: what was stored when they were, and who may still write to them."""

from collections.abc import Mapping
from sqlite3 import Connection as FileConnection
from typing import Any

from sqlalchemy import Connection, Table, select, union

from breakangle.model.words.speech import tr
from breakangle.storage.records.marks import visit_marks
from breakangle.storage.schema.errors import VisitClosedError
from breakangle.storage.schema.tables import BLOB_HASHES, CLOSING, LINE, USED, VISIT

# What may be written to a closed visit: what a person keeps for the shop, that it is deleted, and how it is opened.
ON_THE_SHEET = (LINE, USED)
# Which instrument's history a visit is of is not on the sheet, which says itself what it is about.
STILL_WRITTEN = frozenset({"notes", "deleted_at", "closed_at", "amending", "instrument_id"})


def refuse_closed(visit: Any) -> None:
    """Refuse to write to a visit that is closed.

    Raises:
        VisitClosedError: it is closed, and nobody has opened it for an amendment.
    """
    if visit.closed_at is not None:
        raise VisitClosedError(
            tr(
                "sheet {visit_number} was closed on {closed_at:%Y-%m-%d}",
                visit_number=visit.number,
                closed_at=visit.closed_at.astimezone(),
            ),
            tr("what it says stays as it was signed"),
            tr("open an amendment first, and say why"),
        )


def refuse_change(connection: Connection, table: Table, seen: Any, values: Mapping[str, Any]) -> None:
    """Refuse a change of these columns of a record where its visit is closed and stays so.

    Raises:
        VisitClosedError: it is closed, and one of them is part of what was signed.
    """
    if table is VISIT and not set(values) <= STILL_WRITTEN:
        refuse_closed(seen)
    if table in ON_THE_SHEET:
        refuse_line(connection, table, {"visit_id": seen.visit_id})


def refuse_line(connection: Connection, table: Table, values: Mapping[str, Any]) -> None:
    """Refuse a line of the bill, or what was used, on a closed visit.

    Raises:
        VisitClosedError: it is closed.
    """
    if table in ON_THE_SHEET:
        named = select(VISIT.c.number, VISIT.c.closed_at).where(VISIT.c.id == values["visit_id"])
        for row in connection.execute(named):
            refuse_closed(row)


def beside_entries(connection: Connection, visit: Any) -> list[str]:
    """Return what a sheet says besides entries and body: its words, and each line of the bill and part by its version.

    Told plainly, so that a person who is erased goes from here and from there alike.
    """
    told = [visit.complaint, visit.owner_words or ""]
    for table in ON_THE_SHEET:
        here = table.c.visit_id == visit.id, table.c.deleted_at.is_(None)
        rows = connection.execute(select(table.c.id, table.c.version).where(*here).order_by(table.c.id))
        told += [f"{row.id}/{row.version}" for row in rows]
    return told


def written_since(connection: Connection, visit: Any, closed: Mapping[str, Any]) -> bool:
    """Return whether a visit says anything else by now than its closing, of that body, does."""
    entries, body, *_ = closed["mark"]
    now = visit_marks(connection, visit.id)[visit.id], visit.body
    beside = closed.get("beside")  # what an earlier version did not note
    return now != (entries, body) or (beside is not None and beside != beside_entries(connection, visit))


def stored_hashes(connection: Connection) -> list[str]:
    """Return the hash of every file that the records name, in order."""
    every = union(*(select(one) for one in BLOB_HASHES)).subquery()
    return list(connection.execute(select(every.c[0]).order_by(every.c[0])).scalars())


def signed_last(connection: Connection) -> str:
    """Return who signed the last closing; empty where there is none."""
    last = select(CLOSING.c.signed_by).order_by(CLOSING.c.id.desc()).limit(1)
    return str(connection.execute(last).scalar() or "")


def sheet_hashes(connection: Connection) -> dict[str, str]:
    """Return what each file of a closed sheet is called, by its hash."""
    rows = connection.execute(
        select(VISIT.c.number, CLOSING.c.number, CLOSING.c.pdf_hash, CLOSING.c.html_hash)
        .join(VISIT, VISIT.c.id == CLOSING.c.visit_id)
        .order_by(CLOSING.c.id)
    )
    return {
        name: tr("sheet {row}, closed {row_2}", row=row[0], row_2=row[1]) for row in rows for name in row[2:]
    }


def hashes_in_file(connection: FileConnection) -> list[str]:
    """Return the hash of every file that a copy of the records names, in order; an earlier version's has fewer."""
    here = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    found: set[str] = set()
    for column in BLOB_HASHES:
        if column.table.name in here:
            found |= {row[0] for row in connection.execute(f"SELECT {column.name} FROM {column.table.name}")}
    return sorted(found)
