"""Owners, instruments and visits: taken in, moved along, handed back."""

import json
from datetime import datetime
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument, String
from breakangle.model.service import SERVICE_FORMAT
from breakangle.model.words.speech import tr
from breakangle.services.service_files.service import service_from
from breakangle.services.workshop.house_strengths import with_house_strengths
from breakangle.services.workshop.house_targets import targets_for
from breakangle.storage.records.records import InstrumentRecord, Owner, Visit
from breakangle.storage.records.series import next_number
from breakangle.storage.records.store import (
    Shop,
    Writing,
    add_record,
    change_record,
    one_record,
    records_where,
)
from breakangle.storage.records.strung import put_strings_on, strung_at
from breakangle.storage.schema.errors import NoSuchRecordError
from breakangle.storage.schema.stamp import Stamp
from breakangle.storage.schema.tables import STATES

SHEETS = "sheet"  # the series of numbers that sheets carry
HIGHEST_NUMBER = 2**31 - 1  # what a server's column holds


def local_text(at: datetime) -> str:
    """Return the moment as a person's own clock shows it, to the minute."""
    return at.astimezone().strftime("%Y-%m-%d %H:%M")


def add_owner(shop: Shop, stamp: Stamp, name: str, contact: str = "", notes: str = "") -> Owner:
    """Store a new owner and return it.

    Raises:
        CorrectInputError: no name.
    """
    _named(name, "owner")
    return shop.add(Owner, stamp, name=name.strip(), contact=contact, notes=notes)


def add_instrument(
    shop: Shop, stamp: Stamp, instrument: Instrument, owner: Owner | None = None, notes: str = ""
) -> InstrumentRecord:
    """Store a new instrument and return it.

    Raises:
        ServiceFileError: a kind, make or wrap that the tables do not know.
    """
    body = checked_body(instrument)
    with shop.writing() as connection:
        return put_instrument(
            connection, stamp, json.dumps(body["instrument"]), owner.id if owner else None, notes
        )


def put_instrument(
    connection: Writing, stamp: Stamp, body: str, owner_id: str | None, notes: str = ""
) -> InstrumentRecord:
    """Store a new instrument within a transaction and return it; `body` has been checked."""
    data = json.loads(body)
    return add_record(
        connection, InstrumentRecord, stamp, owner_id=owner_id, name=data["name"], kind=data["kind"], body=body,
        targets=None, notes=notes, playing_hours_per_week=None, strings_changed_at=None,
    )  # fmt: skip


def instrument_of(record: InstrumentRecord) -> Instrument:
    """Return the instrument as the model has it, strung as it is now."""
    return Instrument.model_validate_json(record.body)


def open_visit(
    shop: Shop,
    stamp: Stamp,
    instrument: InstrumentRecord,
    complaint: str = "",
    temperature_c: float | None = None,
    humidity_percent: float | None = None,
    on: datetime | None = None,
) -> Visit:
    """Take the instrument in: store a new visit, waiting, with the next number, and return it.

    `on`: when it came in, where that is entered later.

    Raises:
        ServiceFileError: a temperature or humidity that no room has.
    """
    here = shop.get(InstrumentRecord, instrument.id)
    body = visit_body(shop, here, temperature_c, humidity_percent)
    with shop.writing() as connection:
        return put_visit(connection, stamp, here.id, body, complaint, on)


def visit_body(
    shop: Shop, instrument: InstrumentRecord, temperature_c: float | None, humidity_percent: float | None
) -> dict[str, Any]:
    """Return what a visit of the instrument begins with: itself, the air, and what is wanted of it; checked.

    Raises:
        ServiceFileError: a temperature or humidity that no room has.
    """
    told = with_house_strengths(shop, json.loads(instrument.body))
    body: dict[str, Any] = {"format": SERVICE_FORMAT, "instrument": told}
    air = {"temperature_c": temperature_c, "humidity_percent": humidity_percent}
    if any(value is not None for value in air.values()):
        body["room"] = {name: value for name, value in air.items() if value is not None}
    house = instrument.targets is None
    targets = targets_for(shop, instrument_of(instrument)) if house else json.loads(instrument.targets or "")
    if targets is not None:
        body["targets"] = targets
    service_from(json.dumps(body).encode(), tr("the visit"))
    return body


def put_visit(
    connection: Writing,
    stamp: Stamp,
    instrument_id: str,
    body: dict[str, Any],
    complaint: str = "",
    on: datetime | None = None,
) -> Visit:
    """Store a new visit within a transaction and return it; `body` is a checked service without entries.

    `on`: when it came in, where that is entered later; who entered it and when stands beside.
    """
    room = body.get("room") or {}
    return add_record(
        connection, Visit, stamp, instrument_id=instrument_id, number=next_number(connection, SHEETS),
        state=STATES[0], body=json.dumps(body, ensure_ascii=False), complaint=complaint, notes="",
        humidity_percent=room.get("humidity_percent"), temperature_c=room.get("temperature_c"),
        opened_at=on or stamp.at, handed_back_at=None, moved_at=None,
    )  # fmt: skip


def visit_numbered(shop: Shop, number: int) -> Visit:
    """Return the visit whose sheet carries `number`.

    Raises:
        NoSuchRecordError: there is none, or it is deleted.
    """
    found = shop.every(Visit, number=number) if 0 < number <= HIGHEST_NUMBER else ()
    if not found:
        raise NoSuchRecordError(
            tr("there is no sheet {number}", number=number), "", tr("list them with `breakangle visits`")
        )
    return found[0]


def history(shop: Shop, instrument_id: str) -> tuple[Visit, ...]:
    """Return the instrument's visits, oldest first.

    Raises:
        NoSuchRecordError: no such instrument.
    """
    with shop.reading() as connection:
        one_record(connection, InstrumentRecord, instrument_id)
    found = shop.every(Visit, instrument_id=instrument_id)
    return tuple(sorted(found, key=lambda one: (one.opened_at, one.number)))


def later_visit(connection: Writing, visit: Visit) -> bool:
    """Return whether the instrument has come in again since."""
    others = records_where(connection, Visit, instrument_id=visit.instrument_id)
    return any((other.opened_at, other.number) > (visit.opened_at, visit.number) for other in others)


def restrung(connection: Writing, visit: Visit, was: Instrument, now: Instrument, stamp: Stamp) -> None:
    """Keep what a visit's work made of the instrument, that `was` before it, and its strings' age, in a transaction."""
    seen = one_record(connection, InstrumentRecord, visit.instrument_id)
    before = Instrument.model_validate_json(seen.body)
    kept = _with_work(before, was, now)
    since = strung_at(connection, seen, visit.id)
    if before.strings != kept.strings and not put_strings_on(connection, visit.id):
        since = stamp.at  # it came in with other strings
    if before == kept and since == seen.strings_changed_at:
        return
    body = kept.model_dump_json(exclude_unset=True)
    change_record(connection, seen, stamp, body=body, strings_changed_at=since)


def _with_work(there: Instrument, was: Instrument, now: Instrument) -> Instrument:
    """Return the instrument as the shop knows it, with the strings and turns of the rod that made `now` of what `was`.

    The rest may have been put right since the visit, which keeps what it had.
    """
    if was == there:
        return now
    fresh = {one.string: one for one, old in zip(now.strings, was.strings, strict=True) if one != old}
    strings = tuple(_on_scale_of(string, fresh.get(string.string, string)) for string in there.strings)
    rod, ends = there.rod, (was.rod.turns_left, now.rod.turns_left, there.rod.turns_left)
    if None not in ends and was.rod != now.rod:
        left, then, known = (end or 0.0 for end in ends)
        rod = rod.model_copy(update={"turns_left": round(max(known + then - left, 0.0), 4)})
    return there.model_copy(update={"strings": strings, "rod": rod})


def _on_scale_of(place: String, string: String) -> String:
    """Return the string, as long as the one whose place it takes."""
    if string.scale_mm == place.scale_mm:
        return string
    return string.model_copy(update={"scale_mm": place.scale_mm})


def checked_body(instrument: Instrument, targets: str | None = None) -> dict[str, Any]:
    """Return what a visit of the instrument would hold, checked with the `targets` (JSON) that are kept with it.

    Raises:
        ServiceFileError: what the tables do not know, or a target that cannot be of such an instrument.
    """
    body: dict[str, Any] = {"format": SERVICE_FORMAT}
    body["instrument"] = instrument.model_dump(mode="json", exclude_unset=True)
    if targets is not None:
        body["targets"] = json.loads(targets)
    service_from(json.dumps(body).encode(), tr("the instrument"))
    return body


def _named(name: str, what: str) -> None:
    if not name.strip():
        raise CorrectInputError(tr("the {what} has no name", what=what), "", tr("give one"))
