"""Service files out of the shop and into it; the same file twice is one visit."""

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from breakangle.model.identity_marks import identity_marks
from breakangle.model.service import Service
from breakangle.model.service_file import service_text
from breakangle.planning.estimate.units_doubted import doubted_figures
from breakangle.planning.kinds.prior import prior_of
from breakangle.planning.state.board import board_of
from breakangle.services.service_files.service import service_from
from breakangle.services.service_files.service_written import write_service
from breakangle.services.visits.entries import put_entry, service_of
from breakangle.services.visits.instrument_identity.similar import chosen, may_be
from breakangle.services.visits.known_files import Event, events_of, head_of, same_visit
from breakangle.services.visits.unit_answers import marks_of
from breakangle.services.visits.visits import (
    SHEETS,
    instrument_of,
    later_visit,
    put_instrument,
    put_visit,
    restrung,
)
from breakangle.storage.records.entries import take_entries
from breakangle.storage.records.records import InstrumentRecord, Visit
from breakangle.storage.records.series import hold_series
from breakangle.storage.records.store import Shop, Writing, one_record
from breakangle.storage.schema.stamp import Stamp
from breakangle.storage.search.search import keep_words


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
    shop: Shop,
    content: bytes,
    source: str,
    stamp: Stamp,
    instrument: InstrumentRecord | None = None,
    same: str = "",
    on: datetime | None = None,
) -> Brought:
    """Store a service file as a visit and return it; what the shop has already is not stored again.

    A visit that begins as one of the shop's visits does, or did before it was corrected, and holds the same readings
    and work, is that visit, gone on with elsewhere. Else the instrument is the one given, or the one that `same`
    names (`new`, an id, a sheet's number), or a new one where none that is here may be meant. `on`: when it came in
    and was read, where that is entered later.

    Raises:
        InstrumentAskedError: it may be an instrument that is here, and `same` does not say.
        ChooseAnotherFileError: no service file.
        ServiceFileError: values that cannot be right.
    """
    service = service_from(content, source)
    with shop.writing() as connection:
        return put_service(connection, service, stamp, instrument, same, on)


def put_service(
    connection: Writing,
    service: Service,
    stamp: Stamp,
    instrument: InstrumentRecord | None = None,
    same: str = "",
    on: datetime | None = None,
) -> Brought:
    """Store a service as `bring_in` does, within a transaction; the same one brought at that moment waits for it."""
    hold_series(connection, SHEETS)
    data = with_units_asked(service)
    owner_of, (visit, known) = _instrument_and_visit(connection, service, data, instrument, same)
    if visit is not None:
        added = _gone_on(connection, visit, events_of(data)[known:], stamp)
        return Brought(one_record(connection, Visit, visit.id), False, added)
    if owner_of is None:
        owner_of = put_instrument(connection, stamp, json.dumps(data["instrument"]), None)
    own_words = "; ".join(complaint.words for complaint in service.complaints if complaint.words)
    visit = put_visit(connection, stamp, owner_of.id, head_of(data), own_words, on)
    events = events_of(data)
    take_entries(connection, visit.id, [(kind, _plain(body)) for kind, body in events], stamp, on)
    if not later_visit(connection, visit):
        restrung(connection, visit, instrument_of(owner_of), service.instrument_now(), stamp)
    keep_words(connection, "visit", visit)
    return Brought(one_record(connection, Visit, visit.id), True, len(events))


def _instrument_and_visit(
    connection: Writing,
    service: Service,
    data: dict[str, Any],
    instrument: InstrumentRecord | None,
    same: str,
) -> tuple[InstrumentRecord | None, tuple[Visit | None, int]]:
    """Return which instrument and visit of the shop a file is, None where new, and how much of it is stored.

    A file in which nothing was read or done is a visit that is here only if its serial number or tag says so: equals
    of two owners begin alike.
    """
    there = (instrument,) if instrument else may_be(connection, service.instrument)
    if same and not instrument:
        record = chosen(connection, service.instrument, there, same)
        return record, same_visit(connection, (record,), data) if record else (None, 0)
    visit, known = same_visit(connection, there, data)
    marked = identity_marks(service.instrument.model_extra or {})
    if not instrument and (visit is None or not (events_of(data) or marked)):
        instrument = chosen(connection, service.instrument, there, same)
    return instrument, (visit, known)


def with_units_asked(service: Service) -> dict[str, Any]:
    """Return a service file's data in which every reading whose unit is doubted is marked as unanswered."""
    data: dict[str, Any] = json.loads(service_text(service))
    prior = prior_of(board_of(service.instrument, service.reference_hz))
    for one in doubted_figures(service, prior):
        if one.figure.reading is not None and not one.figure.open:
            data["readings"][service.readings.index(one.figure.reading)] |= marks_of(one)
    return data


def _gone_on(connection: Writing, visit: Visit, events: list[Event], stamp: Stamp) -> int:
    """Store what was read and done elsewhere at a visit that is here, and return how much that is."""
    for kind, body in events:
        put_entry(connection, visit.id, kind, body, stamp)
    return len(events)


def _plain(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, sort_keys=True)
