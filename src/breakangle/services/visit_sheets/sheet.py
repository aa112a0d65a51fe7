"""The sheet of a visit: everything about it in one place, and every entry in words."""

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument
from breakangle.model.measure import says_unit
from breakangle.model.reading import Adjustment, Reading
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.planning.kinds.registry import adjustment_kinds, reading_kinds
from breakangle.services.intake.take_in import change_arrival
from breakangle.services.intake.typed_arrival import ArrivalTyped, air_typed, promised_typed
from breakangle.services.plans.done import with_amount
from breakangle.services.plans.plan_page import StepTold, made
from breakangle.services.readings.typed_readings import understood
from breakangle.services.typed_values.doubtful_units import refuse_doubted
from breakangle.services.visits.entries import correct, service_of
from breakangle.services.visits.moves import move_visit
from breakangle.services.visits.parsed_sheets import READING
from breakangle.services.visits.reading_places import Place, place_of
from breakangle.services.visits.reasons import reason_said
from breakangle.services.workshop.prices import Bill, bill
from breakangle.storage.records.entries import all_entries, entries_of, standing
from breakangle.storage.records.records import (
    Attachment,
    Entry,
    InstrumentRecord,
    Line,
    Owner,
    Price,
    Used,
    Visit,
)
from breakangle.storage.records.store import Shop, change_record, one_record, records_where
from breakangle.storage.schema.errors import EditedMeanwhileError, NoSuchRecordError
from breakangle.storage.schema.stamp import Stamp
from breakangle.storage.schema.tables import STATES

WORDS = ("complaint", "notes", "owner_words", "promised_on")
AIR = ("temperature_c", "humidity_percent")


@dataclass(frozen=True)
class EntryTold:
    """One entry: a reading at its place or an adjustment; neither where it was withdrawn.

    `stands` says whether it counts; `instead_of` is the entry that it superseded.
    """

    entry: Entry
    place: Place | None
    reading: Reading | None
    step: StepTold | None
    stands: bool
    instead_of: "EntryTold | None"

    @property
    def reason(self) -> str:
        """Return in words why it was stored; empty where no reason was."""
        return reason_said(self.entry.reason)


@dataclass(frozen=True)
class Sheet:
    """A visit with all that belongs to it."""

    visit: Visit
    instrument: InstrumentRecord
    owner: Owner | None
    service: Service
    entries: tuple[EntryTold, ...]
    attachments: tuple[Attachment, ...]
    bill: Bill
    prices: tuple[Price, ...]
    used: tuple[Used, ...]

    @property
    def work(self) -> tuple[EntryTold, ...]:
        """Return the adjustments that stand, in the order they were made."""
        return tuple(entry for entry in self.entries if entry.stands and entry.step is not None)

    @property
    def reading_count(self) -> int:
        """Return how many readings stand."""
        return sum(1 for entry in self.entries if entry.stands and entry.reading is not None)

    def attached(self, kind: str) -> tuple[Attachment, ...]:
        """Return the photographs or the recordings."""
        return tuple(attachment for attachment in self.attachments if attachment.kind == kind)


def sheet_of(shop: Shop, visit: Visit) -> Sheet:
    """Return the visit's sheet.

    Raises:
        NoSuchRecordError: the visit or its instrument is gone.
    """
    with shop.reading() as connection:
        instrument = one_record(connection, InstrumentRecord, visit.instrument_id, deleted=True)
        owner = None
        if instrument.owner_id is not None:
            owner = one_record(connection, Owner, instrument.owner_id, deleted=True)
        entries = all_entries(connection, visit.id)
        attached = records_where(connection, Attachment, visit_id=visit.id)
        prices = records_where(connection, Price)
        used = records_where(connection, Used, visit_id=visit.id)
    service = service_of(shop, visit.id)
    told = _told(entries, service.instrument_now())
    return Sheet(visit, instrument, owner, service, told, attached, bill(shop, visit), prices, used)


def entries_told(shop: Shop, visit: Visit) -> tuple[EntryTold, ...]:
    """Return every entry of the visit in words, superseded ones included, in the order of their places."""
    return _told(entries_of(shop, visit.id), service_of(shop, visit.id).instrument_now())


def told_of(
    entries: tuple[Entry, ...], instrument: Instrument, wanted: Collection[str]
) -> tuple[EntryTold, ...]:
    """Return in words those entries of a visit's that are named, and what each of them superseded."""
    near = {entry.supersedes for entry in entries if entry.id in wanted} | set(wanted)
    stand = {entry.id for entry in standing(entries)}
    found = _told(tuple(entry for entry in entries if entry.id in near), instrument)
    return tuple(replace(one, stands=one.entry.id in stand) for one in found)


def entry_told(shop: Shop, visit: Visit, entry_id: str) -> EntryTold:
    """Return one entry of the visit in words.

    Raises:
        NoSuchRecordError: the visit has none of that name.
    """
    for one in entries_told(shop, visit):
        if one.entry.id == entry_id:
            return one
    raise NoSuchRecordError(
        tr(
            "entry {entry_id} is not on sheet {visit_number}",
            entry_id=entry_id[:40],
            visit_number=visit.number,
        ),
        "",
        tr("look at the sheet"),
    )


def correct_entry(
    shop: Shop, visit: Visit, entry_id: str, text: str, reason: str, stamp: Stamp, own_unit: str = "mm"
) -> Entry:
    """Store what stands instead of an entry, as typed, with the reason; nothing typed withdraws it.

    Raises:
        CorrectInputError: no reason, or a value that cannot be right.
        EditedMeanwhileError: somebody has corrected it already.
        NoSuchRecordError: no such entry on this sheet.
    """
    told = entry_told(shop, visit, entry_id)
    if not text.strip():
        return correct(shop, entry_id, None, reason, stamp)
    service = service_of(shop, visit.id)
    if told.place is not None and told.reading is not None:
        spread = {k: v for k, v in json.loads(told.entry.body or "{}").items() if k.startswith("uncertainty")}
        body: Mapping[str, Any] = told.place.body(**understood(text, told.place, service, own_unit)) | spread
        if not says_unit(text):
            refuse_doubted(body, _without_entry(service, told.reading), own_unit)
    elif told.step is not None:
        instrument = service.instrument_now()
        adjustment = with_amount(told.step.adjustment, text, instrument, own_unit)
        body = adjustment.model_dump(mode="json", exclude_unset=True)
    else:
        raise CorrectInputError(tr("this entry was withdrawn"), "", tr("take the reading again"))
    return correct(shop, entry_id, body, reason, stamp)


def _without_entry(service: Service, reading: Reading) -> Service:
    """Return the service without one reading, that it does not speak for itself."""
    rest = tuple(one for one in service.readings if place_of(one) != place_of(reading))
    return service.model_copy(update={"readings": rest})


def change_words(
    shop: Shop, visit: Visit, typed: Mapping[str, str], before: Mapping[str, str], stamp: Stamp
) -> Visit:
    """Store the words of a sheet and its promised day as typed; `before` is what stood there when typing began.

    Words that somebody else has changed meanwhile are not written over, unless only one of the two changed them.

    Raises:
        CorrectInputError: a promised day that is none.
        EditedMeanwhileError: the same words were changed by both: `theirs` and `yours` hold them.
    """
    with shop.writing() as connection:
        now = one_record(connection, Visit, visit.id)
        wanted = {name: typed[name].strip() for name in WORDS if name in typed}
        promised_typed(wanted.get("promised_on", ""))
        stood = {name: getattr(now, name) or "" for name in WORDS}
        mine = {name: text for name, text in wanted.items() if text != before.get(name, stood[name])}
        both = [name for name in mine if stood[name] not in (before.get(name), mine[name])]
        if both:
            raise EditedMeanwhileError(tr("this sheet"), now, mine, now.changed_by)
        return change_record(connection, now, stamp, **mine) if mine else now


def arrival_of(visit: Visit, service: Service) -> dict[str, float | str | None]:
    """Return the air that an instrument came into, in °C and percent, and the strength of play, as stored."""
    hand = service.targets.hand if service.targets else ""
    return {name: getattr(visit, name) for name in AIR} | {"hand": hand}


def change_air(shop: Shop, visit: Visit, typed: ArrivalTyped, before: ArrivalTyped, stamp: Stamp) -> Visit:
    """Store air and strength of play as typed; `before` is what stood there when the person began to type.

    As with the words, what somebody else has changed meanwhile is not written over.

    Raises:
        CorrectInputError: what cannot be right.
        EditedMeanwhileError: the same was changed by both: `theirs` and `yours` hold it.
    """
    now = shop.get(Visit, visit.id)
    stands = arrival_of(now, service_of(shop, visit.id))
    wanted, was = stands | _arrival_typed(typed), stands | _arrival_typed(before)
    mine = {name: value for name, value in wanted.items() if value != was[name]}
    if any(stands[name] not in (was[name], mine[name]) for name in mine):
        raise EditedMeanwhileError(tr("this sheet"), now, mine, now.changed_by)
    if not mine:
        return now
    told = {name: "" if value is None else str(value) for name, value in (stands | mine).items()}
    try:
        return change_arrival(shop, now, ArrivalTyped(**told), stamp)
    except EditedMeanwhileError as cause:
        raise EditedMeanwhileError(tr("this sheet"), cause.theirs, mine, cause.theirs.changed_by) from cause


def _arrival_typed(typed: ArrivalTyped) -> dict[str, float | str | None]:
    """Return what was typed of the air and the hand, by the names of `arrival_of`; what is not told is left out."""
    understood_values = dict(zip(AIR, air_typed(typed), strict=True)) | {"hand": typed.hand}
    return {name: value for name, value in understood_values.items() if getattr(typed, name) is not None}


def move_sheet(shop: Shop, visit: Visit, state: str, seen_state: str, stamp: Stamp) -> Visit:
    """Return the visit in its new state; `seen_state` is the one the person saw it in.

    Raises:
        CorrectInputError: no such state.
        EditedMeanwhileError: somebody has moved it meanwhile.
    """
    if visit.state != seen_state and visit.state != state:
        raise EditedMeanwhileError(tr("the state of this sheet"), visit, {"state": state}, visit.changed_by)
    return visit if visit.state == state else move_visit(shop, visit, state, stamp)


def drop_line(shop: Shop, visit: Visit, line_id: str, version: int, stamp: Stamp) -> None:
    """Take a line off the sheet's bill.

    Raises:
        NoSuchRecordError: no such line on this sheet.
        EditedMeanwhileError: somebody has changed it since it was seen.
    """
    line = shop.get(Line, line_id)
    if line.visit_id != visit.id:
        raise NoSuchRecordError(tr("that line is on another sheet"), "", tr("look at the sheet as it is now"))
    shop.delete(replace(line, version=version), stamp)


def states() -> tuple[str, ...]:
    """Return the states of work in their order."""
    return STATES


def _told(entries: tuple[Entry, ...], instrument: Instrument) -> tuple[EntryTold, ...]:
    stand = {entry.id for entry in standing(entries)}
    known: dict[str, EntryTold] = {}
    for entry in entries:
        reading, step = None, None
        if entry.body is not None:
            noun = _noun(entry)
            reading = noun if isinstance(noun, Reading) else None
            step = made(noun, instrument) if isinstance(noun, Adjustment) else None
        place = place_of(reading) if reading is not None else None
        before = known.get(entry.supersedes or "")
        known[entry.id] = EntryTold(entry, place, reading, step, entry.id in stand, before)
    return tuple(known.values())


def _noun(entry: Entry) -> Reading | Adjustment:
    data = json.loads(entry.body or "{}")
    if entry.kind == READING:
        return reading_kinds()[data["quantity"]].model.model_validate(data)
    return adjustment_kinds()[data["adjust"]].model.model_validate(data)
