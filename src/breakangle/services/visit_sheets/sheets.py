"""Sheets as the command line works on them: taken in, listed, shown with every entry, deleted and brought back."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from breakangle.model.service import unknown_keys
from breakangle.model.words.speech import tr
from breakangle.planning.kinds.registry import adjustment_kinds, reading_kinds
from breakangle.services.intake.owners import owner_typed
from breakangle.services.intake.typed_arrival import promised_typed
from breakangle.services.records.edit import bring_back
from breakangle.services.service_files.service import LARGEST_FILE_BYTES, service_from
from breakangle.services.visits.entries import put_entry
from breakangle.services.visits.parsed_sheets import READING
from breakangle.services.visits.service_files import Brought, put_service
from breakangle.services.visits.used_parts import used_at
from breakangle.services.visits.visits import open_visit, visit_numbered
from breakangle.services.workshop.gauges import check_gauge, uncertainty_with
from breakangle.storage.records.entries import all_entries, one_entry, standing
from breakangle.storage.records.records import Entry, Gauge, InstrumentRecord, Owner, Used, Visit
from breakangle.storage.records.store import (
    Shop,
    Writing,
    add_record,
    change_record,
    one_record,
    records_among,
    records_where,
)
from breakangle.storage.records.worklist import Listed, listed
from breakangle.storage.schema.errors import NoSuchRecordError
from breakangle.storage.schema.stamp import Stamp


@dataclass(frozen=True)
class SheetEntry:
    """One entry as a sheet shows it: whether it still counts, and with which gauge it was read."""

    entry: Entry
    counts: bool
    gauge: str | None


@dataclass(frozen=True)
class Sheet:
    """One visit with its instrument, what it used, and every entry, superseded ones too, in order of place and time."""

    visit: Visit
    instrument: InstrumentRecord
    entries: tuple[SheetEntry, ...]
    used: tuple[Used, ...]


def file_content(path: str) -> bytes:
    """Return what a file holds, or a little more than a service file may, to be refused as such.

    Raises:
        ChooseAnotherFileError: it cannot be read.
    """
    try:
        with Path(path).open("rb") as file:
            return file.read(LARGEST_FILE_BYTES + 1)
    except OSError as cause:
        reason = (cause.strerror or str(cause)).lower()
        raise ChooseAnotherFileError(
            tr("{path} cannot be read: {reason}", path=path, reason=reason), "", tr("name another file")
        ) from cause


def take_in(
    shop: Shop,
    stamp: Stamp,
    content: bytes,
    source: str,
    owner: str | None = None,
    complaint: str = "",
    whose: str = "",
    same: str = "",
    on: datetime | None = None,
) -> tuple[Brought, InstrumentRecord]:
    """Store a service file as a visit, and return it with its instrument; `source` names it where it is wrong.

    `owner` is whose it is, and `whose` the answer where such an owner may be here already, as `owner_typed` takes it;
    `same` is the answer where such an instrument may be here already, as `bring_in` takes it. `on` is when it
    came in and was read, where that is entered later. All of it is stored, or nothing.

    Raises:
        CorrectInputError: an owner without a name.
        InstrumentAskedError: the instrument may be one that is here already, and nobody has said so.
        OwnerAskedError: the owner may be one who is here already, and nobody has said so.
        ChooseAnotherFileError: no service file.
        ServiceFileError: values that cannot be right.
    """
    if owner is not None and not owner.strip():
        raise CorrectInputError(tr("the owner has no name"), "", tr("give one"))
    service = service_from(content, source)
    with shop.writing() as connection:
        brought = put_service(connection, service, stamp, same=same, on=on)
        visit = brought.visit
        record = one_record(connection, InstrumentRecord, visit.instrument_id)
        owner_id = _owner_id(connection, owner, whose, record, stamp)
        if owner_id != record.owner_id:
            record = change_record(connection, record, stamp, owner_id=owner_id)
        if complaint not in ("", visit.complaint):
            visit = change_record(connection, visit, stamp, complaint=complaint)
    return replace(brought, visit=visit), record


def take_in_again(
    shop: Shop,
    stamp: Stamp,
    number: int,
    complaint: str = "",
    temperature_c: float | None = None,
    humidity_percent: float | None = None,
    on: datetime | None = None,
) -> tuple[Visit, InstrumentRecord]:
    """Open a new visit of the instrument that sheet `number` was about, and return both.

    Raises:
        NoSuchRecordError: no such sheet.
        ServiceFileError: a temperature or humidity that no room has.
    """
    record = shop.get(InstrumentRecord, visit_numbered(shop, number).instrument_id)
    return open_visit(shop, stamp, record, complaint, temperature_c, humidity_percent, on), record


def _owner_id(
    connection: Writing, name: str | None, whose: str, record: InstrumentRecord, stamp: Stamp
) -> str | None:
    """Return whose the instrument is: as it was, where nobody is named or its own owner is."""
    if record.owner_id is not None and not whose and name:
        owner = one_record(connection, Owner, record.owner_id, deleted=True)
        if owner.name == name.strip():
            return owner.id
    found = owner_typed(connection, stamp, name or "", "", whose)
    return record.owner_id if found is None else found.id


def read_with(
    shop: Shop, visit: Visit, reading: Mapping[str, Any], gauge: str, stamp: Stamp, before: str | None = None
) -> Entry:
    """Store a reading made with the gauge of that name, and return its entry; a new name is a new gauge.

    `before` names the entry that it was taken before, if it is entered late.

    The gauge's spread is the reading's uncertainty, unless the reading tells its own.

    Raises:
        CorrectInputError: no name, or nothing that can be read.
        ServiceFileError: a value that cannot be right; then there is no new gauge either.
    """
    name, quantity = gauge.strip(), str(reading.get("quantity", ""))
    if not name:
        raise CorrectInputError(tr("the gauge has no name"), "", tr("give one"))
    check_gauge(quantity, None)
    with shop.writing() as connection:
        found = records_where(connection, Gauge, name=name)
        made = {"name": name, "quantity": quantity, "spread": None, "notes": ""}
        one = found[0] if found else add_record(connection, Gauge, stamp, **made)
        told = uncertainty_with(one, quantity) | dict(reading)
        return put_entry(connection, visit.id, READING, told, stamp, one.id, before=before)


def strange_keys(entry: Entry) -> tuple[str, ...]:
    """Return the JSON path of every key of an entry that this program does not know; they are kept."""
    if entry.body is None:
        return ()
    body = json.loads(entry.body)
    kind = reading_kinds()[body["quantity"]] if entry.kind == READING else adjustment_kinds()[body["adjust"]]
    return tuple(unknown_keys(kind.model.model_validate(body)))


def visit_list(shop: Shop, state: str | None = None) -> tuple[Listed, ...]:
    """Return every visit (in one state, where it is named) with its instrument's name, newest first."""
    with shop.reading() as connection:
        return listed(connection, state)


def sheet(shop: Shop, number: int) -> Sheet:
    """Return the sheet of that number with everything on it.

    Raises:
        NoSuchRecordError: there is none, or it is deleted.
    """
    visit = visit_numbered(shop, number)
    with shop.reading() as connection:
        record = one_record(connection, InstrumentRecord, visit.instrument_id, deleted=True)
        entries = all_entries(connection, visit.id)
        named = sorted({entry.gauge_id for entry in entries if entry.gauge_id})
        gauges = {
            gauge.id: gauge.name for gauge in records_among(connection, Gauge, "id", named, deleted=True)
        }
    stands = {entry.id for entry in standing(entries)}
    return Sheet(
        visit,
        record,
        tuple(SheetEntry(entry, entry.id in stands, gauges.get(entry.gauge_id or "")) for entry in entries),
        used_at(shop, visit.id),
    )


def entry_named(shop: Shop, entry_id: str) -> Entry:
    """Return an entry by its name.

    Raises:
        NoSuchRecordError: there is none of that name.
    """
    with shop.reading() as connection:
        return one_entry(connection, entry_id)


def write_notes(shop: Shop, visit: Visit, notes: str, stamp: Stamp) -> Visit:
    """Write the visit's notes anew and return it.

    Raises:
        EditedMeanwhileError: somebody has changed the visit since it was seen.
    """
    return shop.change(visit, stamp, notes=notes)


def promise(shop: Shop, visit: Visit, day: str, stamp: Stamp) -> Visit:
    """Store the day that the visit is promised for (`none`: no day), and return the visit.

    Raises:
        CorrectInputError: no day.
        EditedMeanwhileError: somebody has changed the visit since it was seen.
    """
    given = "" if day.strip() == "none" else day
    return shop.change(visit, stamp, promised_on=promised_typed(given))


def delete_visit(shop: Shop, visit: Visit, stamp: Stamp) -> Visit:
    """Delete the visit and return it; for 30 days it can be brought back.

    Raises:
        EditedMeanwhileError: somebody has changed the visit since it was seen.
    """
    return shop.delete(visit, stamp)


def bring_back_visit(shop: Shop, number: int, stamp: Stamp) -> Visit:
    """Bring a deleted visit back by its sheet's number, and return it.

    Raises:
        NoSuchRecordError: no such sheet.
        CorrectInputError: it is not deleted, or was more than 30 days ago.
    """
    with shop.reading() as connection:
        found = records_where(connection, Visit, True, number=number)
    if not found:
        raise NoSuchRecordError(
            tr("there is no sheet {number}", number=number), "", tr("list them: breakangle visits")
        )
    bring_back(shop, "visit", found[0].id, stamp)
    return shop.get(Visit, found[0].id)
