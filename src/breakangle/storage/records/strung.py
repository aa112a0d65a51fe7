"""When the strings of an instrument went on, as what stands of a visit's work tells it."""

import json
from collections.abc import Iterator
from datetime import datetime

from sqlalchemy import Connection, select

from breakangle.storage.records.entries import all_entries, standing
from breakangle.storage.records.records import Entry, InstrumentRecord
from breakangle.storage.schema.plain import from_plain
from breakangle.storage.schema.tables import CHANGE, INSTRUMENT

NEW_STRINGS = "restring"  # the adjustment that puts strings on, as its body names it


def put_strings_on(connection: Connection, visit_id: str) -> bool:
    """Return whether strings went on at this visit, though it was undone since."""
    return any(map(_puts_strings_on, all_entries(connection, visit_id)))


def strung_at(connection: Connection, instrument: InstrumentRecord, visit_id: str) -> datetime | None:
    """Return when the strings went on that are on now, at this visit or before it; None if that is not known.

    Strings put on at the visit are as old as the first entry that said so: corrected later, they are no newer.
    Where that was undone, what stood before holds again.
    """
    entries = all_entries(connection, visit_id)
    first = _firsts(entries)
    stands = [first[one.id] for one in standing(entries) if _puts_strings_on(one)]
    if stands:
        return stands[-1].taken_at
    told = {first[one.id].id for one in entries if _puts_strings_on(one)}
    undone = {one.taken_at for one in entries if first[one.id].id in told}
    return next((at for at in _told_before(connection, instrument) if at not in undone), None)


def _firsts(entries: tuple[Entry, ...]) -> dict[str, Entry]:
    """Return by each entry's key the entry that it goes back to: the one made at the bench."""
    by_id = {one.id: one for one in entries}
    found: dict[str, Entry] = {}
    for entry in entries:
        first = entry
        while first.supersedes is not None and first.supersedes in by_id:
            first = by_id[first.supersedes]
        found[entry.id] = first
    return found


def _puts_strings_on(entry: Entry) -> bool:
    return bool(json.loads(entry.body or "{}").get("adjust") == NEW_STRINGS)


def _told_before(connection: Connection, instrument: InstrumentRecord) -> Iterator[datetime | None]:
    """Yield what the record says of its strings' age, and what it said before, newest first."""
    yield instrument.strings_changed_at
    wanted = (
        select(CHANGE.c.body)
        .where(CHANGE.c.record_table == INSTRUMENT.name, CHANGE.c.record_id == instrument.id)
        .order_by(CHANGE.c.version.desc())
    )
    for text in connection.execute(wanted).scalars():
        yield from_plain(INSTRUMENT, json.loads(text))["strings_changed_at"]
