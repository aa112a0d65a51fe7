"""Which visit a service file is, as that stands or once stood."""

import json
from collections.abc import Iterator, Sequence
from typing import Any

from breakangle.services.visits.parsed_sheets import ADJUSTMENT, READING
from breakangle.storage.records.entries import all_entries, standing
from breakangle.storage.records.former import earlier, once_told
from breakangle.storage.records.records import Entry, InstrumentRecord, Visit
from breakangle.storage.records.store import Writing, records_among
from breakangle.storage.schema.tables import INSTRUMENT, VISIT

Event = tuple[str, dict[str, Any]]


def head_of(data: dict[str, Any]) -> dict[str, Any]:
    """Return a service file's data without what was read and done."""
    return {key: value for key, value in data.items() if key not in ("readings", "work")}


def _same_head(data: dict[str, Any]) -> dict[str, Any]:
    """Return what tells one visit from another: complaints are answered as it goes on."""
    return {key: value for key, value in head_of(data).items() if key != "complaints"}


def events_of(data: dict[str, Any]) -> list[Event]:
    """Return readings and work of a service file's data in the order they were made."""
    found: list[Event] = []
    work = data.get("work", [])
    for done in range(len(work) + 1):
        here = [one for one in data.get("readings", []) if one.get("after", 0) == done]
        found += [(READING, {key: value for key, value in one.items() if key != "after"}) for one in here]
        found += [(ADJUSTMENT, adjustment) for adjustment in work[done : done + 1]]
    return found


def same_visit(
    connection: Writing, instruments: Sequence[InstrumentRecord], data: dict[str, Any]
) -> tuple[Visit | None, int]:
    """Return the visit that a file is, or goes on with, and how many of its readings and work are stored already.

    What was corrected or put right here since the file was written is still that file. Of instruments that were
    once told otherwise, a visit is looked for where those that the file may be about have none.
    """
    best: tuple[Visit | None, int] = (None, 0)
    if instruments:
        keys = [instrument.id for instrument in instruments]
        best = _best(connection, records_among(connection, Visit, "instrument_id", keys), data)
    if best[0] is None and events_of(data):
        once = once_told(connection, INSTRUMENT, str(data["instrument"]["name"]))
        here = [record.id for record in records_among(connection, InstrumentRecord, "id", once)]
        best = _best(connection, records_among(connection, Visit, "instrument_id", here), data)
    return best


def _best(connection: Writing, visits: Sequence[Visit], data: dict[str, Any]) -> tuple[Visit | None, int]:
    best: tuple[Visit | None, int] = (None, -1)
    events = events_of(data)
    for visit in visits:
        if _same_head(data) not in _heads(connection, visit):
            continue
        known = _stored(all_entries(connection, visit.id), events)
        if known is not None and known > best[1]:
            best = (visit, known)
    return best[0], max(best[1], 0)


def _heads(connection: Writing, visit: Visit) -> Iterator[dict[str, Any]]:
    """Yield what the visit began with, as it is told now and as it was before."""
    yield _same_head(json.loads(visit.body))
    for was in earlier(connection, VISIT, visit.id):
        yield _same_head(json.loads(was["body"]))


def _stored(entries: tuple[Entry, ...], events: list[Event]) -> int | None:
    """Return how many of a file's events the visit has, from the first; None where the file is not of this visit.

    A place holds whatever ever stood there; one that was withdrawn may be missing. An empty visit is the beginning
    of every other, and an empty file of every other: they are the same only if both are empty.
    """
    if bool(entries) != bool(events):
        return None
    stands = {entry.place for entry in standing(entries)}
    places: dict[int, list[Event]] = {}
    for entry in entries:
        places.setdefault(entry.place, [])
        if entry.body is not None:
            places[entry.place].append((entry.kind, json.loads(entry.body)))
    count = 0
    for place, stood in places.items():
        if count == len(events):
            break
        if events[count] in stood:
            count += 1
        elif place in stands:
            return None
    return count if count or not events else None
