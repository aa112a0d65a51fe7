"""Service files out of the shop and into it; the same file twice is one visit."""

import json
from dataclasses import dataclass
from typing import Any

from breakangle.desk.service import service_from, write_service
from breakangle.desk.service_file_known import Event, events_of, head_of, same_instrument, same_visit
from breakangle.desk.shop_readings import put_entry, service_of
from breakangle.desk.shop_visits import SHEETS, instrument_of, put_instrument, put_visit, restrung
from breakangle.model.service import Service
from breakangle.model.service_file import service_text
from breakangle.shop.entries import hold_series, take_entry
from breakangle.shop.records import InstrumentRecord, Visit
from breakangle.shop.search import keep_words
from breakangle.shop.stamp import Stamp
from breakangle.shop.store import Shop, Writing, one_record


@dataclass(frozen=True)
class Brought:
    """What came in with a service file: the visit, whether it is new, and how many entries were new."""

    visit: Visit
    new_visit: bool
    added_count: int


def visit_text(shop: Shop, visit_id: str) -> str:
    """Return the visit as a service file's text.

    Raises:
        NoSuchRecordError: no such visit.
    """
    return service_text(service_of(shop, visit_id))


def export_visit(shop: Shop, visit_id: str, path: str) -> None:
    """Write the visit's service file, whole or not at all.

    Raises:
        ChooseAnotherFileError: the place cannot be written.
        NoSuchRecordError: no such visit.
    """
    write_service(path, service_of(shop, visit_id))


def bring_in(
    shop: Shop, content: bytes, source: str, stamp: Stamp, instrument: InstrumentRecord | None = None
) -> Brought:
    """Store a service file as a visit and return it; what the shop has already is not stored again.

    The instrument is the one given, else the shop's own of the same name, kind and shape, else a new one. A
    visit that begins as one of the instrument's visits does, or did before it was corrected, is that visit, gone
    on with elsewhere.

    Raises:
        ChooseAnotherFileError: no service file.
        ServiceFileError: values that cannot be right.
    """
    service = service_from(content, source)
    with shop.writing() as connection:
        return put_service(connection, service, stamp, instrument)


def put_service(
    connection: Writing, service: Service, stamp: Stamp, instrument: InstrumentRecord | None = None
) -> Brought:
    """Store a service as `bring_in` does, within a transaction; the same one brought at that moment waits for it."""
    hold_series(connection, SHEETS)
    data = json.loads(service_text(service))
    owner_of = instrument or same_instrument(connection, service)
    visit, known = same_visit(connection, owner_of, data)
    if visit is not None:
        added = _gone_on(connection, visit, events_of(data)[known:], stamp)
        return Brought(one_record(connection, Visit, visit.id), False, added)
    if owner_of is None:
        owner_of = put_instrument(connection, stamp, json.dumps(data["instrument"]), None)
    visit = put_visit(connection, stamp, owner_of.id, head_of(data))
    events = events_of(data)
    for kind, body in events:
        take_entry(connection, visit.id, kind, _plain(body), stamp)
    restrung(connection, visit, instrument_of(owner_of), service.instrument_now(), stamp)
    keep_words(connection, "visit", visit)
    return Brought(one_record(connection, Visit, visit.id), True, len(events))


def _gone_on(connection: Writing, visit: Visit, events: list[Event], stamp: Stamp) -> int:
    """Store what was read and done elsewhere at a visit that is here, and return how much that is."""
    for kind, body in events:
        put_entry(connection, visit.id, kind, body, stamp)
    return len(events)


def _plain(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, sort_keys=True)
