"""Service files out of the shop and into it; the same file twice is one visit."""

import json
from dataclasses import dataclass
from typing import Any

from breakangle.desk.service import service_from, write_service
from breakangle.desk.shop_readings import ADJUSTMENT, READING, service_data, service_of
from breakangle.desk.shop_visits import instrument_of, later_visit, put_instrument, put_visit, restrung
from breakangle.model.service import Service
from breakangle.model.service_file import service_text
from breakangle.shop.entries import all_entries, standing, take_entry
from breakangle.shop.records import InstrumentRecord, Visit
from breakangle.shop.search import keep_words
from breakangle.shop.stamp import Stamp
from breakangle.shop.store import Shop, Writing, one_record, records_where

Event = tuple[str, str]


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
    visit that begins as one of the instrument's visits does is that visit, gone on with elsewhere.

    Raises:
        ChooseAnotherFileError: no service file.
        ServiceFileError: values that cannot be right.
    """
    service = service_from(content, source)
    data = json.loads(service_text(service))
    events = _events(data)
    head = _head(data)
    with shop.writing() as connection:
        owner_of = instrument or _same_instrument(connection, service)
        visit, known = (None, 0) if owner_of is None else _same_visit(connection, owner_of.id, head, events)
        if owner_of is None:
            owner_of = put_instrument(connection, stamp, json.dumps(data["instrument"]), None)
        new = visit is None
        if visit is None:
            visit = put_visit(connection, stamp, owner_of.id, head)
        for kind, body in events[known:]:
            take_entry(connection, visit.id, kind, body, stamp)
        if new or known < len(events):
            if not later_visit(connection, visit):
                restrung(connection, visit, instrument_of(owner_of), service.instrument_now(), stamp)
            keep_words(connection, "visit", visit)
        visit = one_record(connection, Visit, visit.id)
    return Brought(visit, new, len(events) - known)


def _events(data: dict[str, Any]) -> list[Event]:
    """Return readings and work in the order they were made, each as text that equal things share."""
    found: list[Event] = []
    for done in range(len(data.get("work", [])) + 1):
        here = [one for one in data.get("readings", []) if one.get("after", 0) == done]
        found += [(READING, _plain({k: v for k, v in one.items() if k != "after"})) for one in here]
        if done < len(data.get("work", [])):
            found.append((ADJUSTMENT, _plain(data["work"][done])))
    return found


def _plain(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, sort_keys=True)


def _same_instrument(connection: Writing, service: Service) -> InstrumentRecord | None:
    here, found = service.instrument, []
    for one in records_where(connection, InstrumentRecord, name=here.name, kind=here.kind):
        there = instrument_of(one)
        same = (there.scale_mm, there.frets, len(there.strings))
        found += [one] if same == (here.scale_mm, here.frets, len(here.strings)) else []
    return found[0] if len(found) == 1 else None


def _same_visit(
    connection: Writing, instrument_id: str, head: dict[str, Any], events: list[Event]
) -> tuple[Visit | None, int]:
    """Return the visit that the file is, or goes on with, and how many of its entries are stored already."""
    best: tuple[Visit | None, int] = (None, -1)
    for visit in records_where(connection, Visit, instrument_id=instrument_id):
        entries = standing(all_entries(connection, visit.id))
        text = json.dumps(service_data(visit, entries)).encode()
        data = json.loads(service_text(service_from(text, f"sheet {visit.number}")))
        stored = _events(data)
        # An empty visit is the beginning of every other: it is the same only if the file is empty too.
        goes_on = events[: len(stored)] == stored and (bool(stored) or not events)
        if _plain(_head(data)) == _plain(head) and goes_on and len(stored) > best[1]:
            best = (visit, len(stored))
    return best[0], max(best[1], 0)


def _head(data: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in data.items() if key not in ("readings", "work")}
