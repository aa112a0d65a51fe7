"""Taking in: whose instrument it is, what it is, what is wrong with it, and the air it comes into."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from breakangle.model.identity_marks import identity_marks
from breakangle.model.instrument import Instrument
from breakangle.model.service import SERVICE_FORMAT
from breakangle.model.words.speech import tr
from breakangle.services.intake.owners import alike, owner_typed
from breakangle.services.intake.typed_arrival import (
    ArrivalTyped,
    NewTyped,
    VisitTyped,
    air_typed,
    hand_typed,
    hours_typed,
    promised_typed,
)
from breakangle.services.intake.typed_instrument import instrument_typed
from breakangle.services.service_files.service import service_from
from breakangle.services.typed_values.past_days import day_typed
from breakangle.services.visits.instrument_identity.similar import InstrumentAskedError, carrying
from breakangle.services.visits.instrument_identity.similar import known_instrument as side_by_side
from breakangle.services.visits.playing_strength import keep_hand, usual_hand
from breakangle.services.visits.typed_complaints import complaint_typed
from breakangle.services.visits.visits import instrument_of, put_instrument, put_visit, visit_body
from breakangle.services.workshop.kinds import kind_here
from breakangle.services.workshop.prices import agreed_typed
from breakangle.storage.records.answered import answer_key, claim_key
from breakangle.storage.records.records import InstrumentRecord, Line, Owner, Visit
from breakangle.storage.records.store import (
    Shop,
    Writing,
    add_record,
    change_record,
    one_record,
    records_where,
)
from breakangle.storage.schema.stamp import Stamp
from breakangle.storage.search.search import search

MOST_FOUND = 12


@dataclass(frozen=True)
class Known:
    """An instrument that has been here, with its owner."""

    instrument: InstrumentRecord
    owner: Owner | None


def known_by(shop: Shop, words: str) -> tuple[Known, ...]:
    """Return the instruments that `words` find by their own or their owner's words, those last changed first."""
    if not words.strip():
        return ()
    with shop.reading() as connection:
        keys: dict[str, None] = {}
        for hit in search(connection, words, 60):
            if hit.record_table == "instrument":
                keys[hit.record_id] = None
            elif hit.record_table == "owner":
                theirs = records_where(connection, InstrumentRecord, owner_id=hit.record_id)
                keys |= dict.fromkeys(one.id for one in theirs)
        found = [one_record(connection, InstrumentRecord, key) for key in list(keys)[:MOST_FOUND]]
        return tuple(_with_owner(connection, one) for one in found)


def known_instrument(shop: Shop, instrument_id: str) -> Known:
    """Return one instrument with its owner.

    Raises:
        NoSuchRecordError: none of that name.
    """
    with shop.reading() as connection:
        return _with_owner(connection, one_record(connection, InstrumentRecord, instrument_id))


def owners_called(shop: Shop, words: str) -> tuple[Owner, ...]:
    """Return the owners that `words` find, then those whose names are spelled alike."""
    if not words.strip():
        return ()
    with shop.reading() as connection:
        hits = [one for one in search(connection, words, 60) if one.record_table == "owner"]
        found = [one_record(connection, Owner, hit.record_id) for hit in hits[:MOST_FOUND]]
        known = {owner.id for owner in found}
        return (*found, *(owner for owner in alike(connection, words) if owner.id not in known))


def take_in_again(
    shop: Shop, stamp: Stamp, instrument_id: str, typed: VisitTyped, key: str | None = None
) -> Visit:
    """Take in an instrument that has been here before, and return its new visit.

    Sent again with the same `key`, it is not taken in again: the visit stored then is returned.

    Raises:
        NoSuchRecordError: no such instrument.
        CorrectInputError: a temperature, humidity or hand that cannot be right.
    """
    record = shop.get(InstrumentRecord, instrument_id)
    body = visit_body(shop, record, *air_typed(typed.arrival))
    _play(body, usual_hand(shop, record) if typed.arrival.hand is None else hand_typed(typed.arrival))
    _complain(body, typed, instrument_of(record))
    agreed = agreed_typed(shop, typed.price)
    with shop.writing() as connection:
        told = None if key is None else claim_key(connection, key, stamp.at)
        if told:
            return one_record(connection, Visit, told)
        return _put_typed(connection, stamp, instrument_id, body, typed, key, agreed)


def take_in_new(
    shop: Shop, stamp: Stamp, new: NewTyped, typed: VisitTyped, own_unit: str = "mm", key: str | None = None
) -> Visit:
    """Take in an instrument that is new here: owner, instrument and visit are stored together or not at all.

    Sent again with the same `key`, it is not taken in again: the visit stored then is returned.

    Raises:
        CorrectInputError: what cannot be right, one sentence a field.
        InstrumentAskedError: one with its serial number or tag is here, and nobody has said that this is another.
        OwnerAskedError: the owner may be one who is here already, and nobody has said so.
    """
    instrument = instrument_typed(new.boxes, own_unit, kin=kind_here(shop, new.boxes.get("kind", "")))
    temperature, humidity = air_typed(typed.arrival)
    hours, hand = hours_typed(new.playing_hours_per_week), hand_typed(typed.arrival)
    body = _body(instrument, temperature, humidity, hand)
    _complain(body, typed, instrument)
    agreed = agreed_typed(shop, typed.price)
    with shop.writing() as connection:
        told = None if key is None else claim_key(connection, key, stamp.at)
        if told:
            return one_record(connection, Visit, told)
        there = carrying(connection, identity_marks(instrument.model_extra or {}))
        if there and not new.is_another:
            raise InstrumentAskedError(instrument.name, tuple(side_by_side(connection, one) for one in there))
        owner = owner_typed(connection, stamp, new.owner, new.contact, new.owner_id)
        owner_id = None if owner is None else owner.id
        record = put_instrument(connection, stamp, json.dumps(body["instrument"]), owner_id)
        if hours is not None:
            record = change_record(connection, record, stamp, playing_hours_per_week=hours)
        return _put_typed(connection, stamp, record.id, body, typed, key, agreed)


def change_arrival(shop: Shop, visit: Visit, typed: ArrivalTyped, stamp: Stamp) -> Visit:
    """Store the air and the strength of play of a visit anew; `visit` is as the person saw it.

    Raises:
        CorrectInputError: what cannot be right.
        EditedMeanwhileError: somebody has changed the visit since.
    """
    temperature, humidity = air_typed(typed)
    body = json.loads(visit.body)
    _air(body, temperature, humidity)
    _play(body, hand_typed(typed))
    service_from(json.dumps(body).encode(), tr("sheet {visit_number}", visit_number=visit.number))
    told = {
        "body": json.dumps(body, ensure_ascii=False),
        "temperature_c": temperature,
        "humidity_percent": humidity,
    }
    with shop.writing() as connection:
        changed = change_record(connection, visit, stamp, **told)
        keep_hand(connection, visit.instrument_id, hand_typed(typed), stamp)
    return changed


def _body(
    instrument: Instrument, temperature: float | None, humidity: float | None, hand: str
) -> dict[str, Any]:
    body: dict[str, Any] = {
        "format": SERVICE_FORMAT,
        "instrument": instrument.model_dump(mode="json", exclude_unset=True),
    }
    _air(body, temperature, humidity)
    _play(body, hand)
    service_from(json.dumps(body).encode(), tr("the instrument"))
    return body


def _air(body: dict[str, Any], temperature: float | None, humidity: float | None) -> None:
    air = {"temperature_c": temperature, "humidity_percent": humidity}
    body.pop("room", None)
    if any(value is not None for value in air.values()):
        body["room"] = {name: value for name, value in air.items() if value is not None}


def _play(body: dict[str, Any], hand: str) -> None:
    if hand:
        body["targets"] = (body.get("targets") or {}) | {"hand": hand}


def _complain(body: dict[str, Any], typed: VisitTyped, instrument: Instrument) -> None:
    """Put the complaint typed into what the visit begins with, the owner's words with it."""
    found = complaint_typed(replace(typed.complaint, words=typed.complaint_words), instrument)
    if found is not None:
        body["complaints"] = [found.model_dump(mode="json", exclude_unset=True)]
        service_from(json.dumps(body).encode(), tr("the complaint"))


def _put_typed(
    connection: Writing,
    stamp: Stamp,
    instrument_id: str,
    body: dict[str, Any],
    typed: VisitTyped,
    key: str | None,
    agreed: Mapping[str, Any],
) -> Visit:
    """Store the visit with the words typed and the price agreed, and return it; a claimed `key` is answered."""
    promised, came_in = promised_typed(typed.promised_on), day_typed(typed.came_in_on, stamp.at)
    visit = put_visit(connection, stamp, instrument_id, body, typed.complaint_words.strip(), came_in)
    besides = {"notes": typed.notes.strip(), "promised_on": promised}
    if any(besides.values()):
        visit = change_record(connection, visit, stamp, **besides)
    keep_hand(connection, instrument_id, hand_typed(typed.arrival), stamp)
    if agreed:
        add_record(connection, Line, stamp, visit_id=visit.id, **agreed)
    if key is not None:
        answer_key(connection, key, visit.id)
    return visit


def _with_owner(connection: Writing, one: InstrumentRecord) -> Known:
    owner = None if one.owner_id is None else one_record(connection, Owner, one.owner_id, deleted=True)
    return Known(one, owner)
