"""A mark of what a visit holds: as long as it is the same, so are the visit's readings and work."""

from collections.abc import Sequence
from typing import cast

from sqlalchemy import Connection, func, select

from breakangle.storage.connection.moment import carried_here, kept_here
from breakangle.storage.records.records import Entry
from breakangle.storage.schema.tables import ENTRY


def visit_marks(connection: Connection, *visit_ids: str) -> dict[str, str]:
    """Return each visit's mark, by visit: its entries are never changed, so their number and the last one tell."""
    entry, kept = ENTRY.c, kept_here(connection)
    known = {one: cast(str, kept["mark", one]) for one in visit_ids if ("mark", one) in kept}
    asked = [one for one in visit_ids if one not in known]
    if asked:
        marked = (
            select(entry.visit_id, func.count(entry.id), func.max(entry.id))
            .where(entry.visit_id.in_(asked))
            .group_by(entry.visit_id)
        )
        found = {row[0]: f"{row[1]}/{row[2]}" for row in connection.execute(marked)}
        known |= {one: found.get(one, "") for one in asked}
        kept.update({("mark", one): known[one] for one in asked})
    return {one: known[one] for one in visit_ids}


def carry(connection: Connection, visit_id: str, entries: Sequence[Entry]) -> None:
    """Let the rest of this request know a visit's entries, in their order, so that they are not read again."""
    carried_here()[connection.engine, visit_id] = tuple(entries)


def carry_also(connection: Connection, made: Entry) -> None:
    """Let the rest of this request know an entry that was just stored, where it knows the visit's others."""
    entries = carried_here().get((connection.engine, made.visit_id))
    if entries is not None:
        order = sorted((*entries, made), key=lambda entry: (entry.order, entry.place, entry.id))
        carry(connection, made.visit_id, order)


def entries_carried(connection: Connection, visit_id: str) -> tuple[Entry, ...] | None:
    """Return a visit's entries as this request knows them; None where it does not, or others were stored since."""
    entries = carried_here().get((connection.engine, visit_id))
    if entries is None or visit_marks(connection, visit_id)[visit_id] != _mark_of(entries):
        return None
    return cast(tuple[Entry, ...], entries)


def _mark_of(entries: Sequence[Entry]) -> str:
    return f"{len(entries)}/{max(entry.id for entry in entries)}" if entries else ""
