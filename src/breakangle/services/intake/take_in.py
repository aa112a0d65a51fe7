"""Taking in: whose instrument it is, what it is, what is wrong with it, and the air it comes into."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.identity_marks import identity_marks
from breakangle.model.instrument import Instrument
from breakangle.model.service import SERVICE_FORMAT
from breakangle.model.typed_number import number_within
from breakangle.model.words.speech import tr
from breakangle.reference.families import HANDS
from breakangle.services.intake.owners import alike, owner_typed
from breakangle.services.intake.typed_instrument import instrument_typed
from breakangle.services.service_files.service import service_from
from breakangle.services.typed_values.past_days import day_typed
from breakangle.services.visits.instrument_identity.similar import NEW, InstrumentAskedError, carrying
from breakangle.services.visits.instrument_identity.similar import known_instrument as side_by_side
from breakangle.services.visits.playing_strength import keep_hand, usual_hand
from breakangle.services.visits.typed_complaints import complaint_typed
from breakangle.services.visits.visits import instrument_of, put_instrument, put_visit, visit_body
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
COMPLAINT = "complaint_"  # what the fields of a complaint are called by, beside those of an instrument


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
        found = [one_record(connection, Owner, one.record_id) for one in hits[:MOST_FOUND]]
        known = {owner.id for owner in found}
        return (*found, *(owner for owner in alike(connection, words) if owner.id not in known))


def take_in_again(
    shop: Shop, stamp: Stamp, instrument_id: str, typed: Mapping[str, str], key: str | None = None
) -> Visit:
    """Take in an instrument that has been here before, and return its new visit.

    Sent again with the same `key`, it is not taken in again: the visit stored then is returned.

    Raises:
        NoSuchRecordError: no such instrument.
        CorrectInputError: a temperature, humidity or hand that cannot be right.
    """
    record = shop.get(InstrumentRecord, instrument_id)
    body = visit_body(shop, record, *air_typed(typed))
    _play(body, _hand(typed) if "hand" in typed else usual_hand(shop, record))
    _complain(body, typed, instrument_of(record))
    agreed = agreed_typed(shop, typed.get("price", ""))
    with shop.writing() as connection:
        told = None if key is None else claim_key(connection, key, stamp.at)
        if told:
            return one_record(connection, Visit, told)
        return _put_typed(connection, stamp, instrument_id, body, typed, key, agreed)


def take_in_new(
    shop: Shop, stamp: Stamp, typed: Mapping[str, str], own_unit: str = "mm", key: str | None = None
) -> Visit:
    """Take in an instrument that is new here: owner, instrument and visit are stored together or not at all.

    Sent again with the same `key`, it is not taken in again: the visit stored then is returned.

    Raises:
        CorrectInputError: what cannot be right, one sentence a field.
        InstrumentAskedError: one with its serial number or tag is here, and `same` does not say that this is another.
        OwnerAskedError: the owner may be one who is here already, and nobody has said so.
    """
    instrument = instrument_typed(typed, own_unit)
    temperature, humidity = air_typed(typed)
    hours, hand = _hours(typed), _hand(typed)
    body = _body(instrument, temperature, humidity, hand)
    _complain(body, typed, instrument)
    agreed = agreed_typed(shop, typed.get("price", ""))
    with shop.writing() as connection:
        told = None if key is None else claim_key(connection, key, stamp.at)
        if told:
            return one_record(connection, Visit, told)
        there = carrying(connection, identity_marks(instrument.model_extra or {}))
        if there and typed.get("same") != NEW:
            raise InstrumentAskedError(instrument.name, tuple(side_by_side(connection, one) for one in there))
        owner_id = _owner(connection, stamp, typed)
        record = put_instrument(connection, stamp, json.dumps(body["instrument"]), owner_id)
        if hours is not None:
            record = change_record(connection, record, stamp, playing_hours_per_week=hours)
        return _put_typed(connection, stamp, record.id, body, typed, key, agreed)


def air_typed(typed: Mapping[str, str]) -> tuple[float | None, float | None]:
    """Return temperature in °C and humidity in percent; None where nothing was typed.

    Raises:
        CorrectInputError: no number, or one that no room has.
    """
    found = [
        _number(typed.get("temperature_c", ""), tr("the temperature"), -10.0, 50.0, "°C", ("c", "°c")),
        _number(typed.get("humidity_percent", ""), tr("the humidity"), 1.0, 100.0, "%", ("%",)),
    ]
    return found[0], found[1]


def change_arrival(shop: Shop, visit: Visit, typed: Mapping[str, str], stamp: Stamp) -> Visit:
    """Store the air and the strength of play of a visit anew; `visit` is as the person saw it.

    Raises:
        CorrectInputError: what cannot be right.
        EditedMeanwhileError: somebody has changed the visit since.
    """
    temperature, humidity = air_typed(typed)
    body = json.loads(visit.body)
    _air(body, temperature, humidity)
    _play(body, _hand(typed))
    service_from(json.dumps(body).encode(), tr("sheet {visit_number}", visit_number=visit.number))
    told = {
        "body": json.dumps(body, ensure_ascii=False),
        "temperature_c": temperature,
        "humidity_percent": humidity,
    }
    with shop.writing() as connection:
        changed = change_record(connection, visit, stamp, **told)
        keep_hand(connection, visit.instrument_id, _hand(typed), stamp)
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


def promised_typed(typed: Mapping[str, str]) -> str | None:
    """Return the day that was promised, as 2027-03-01; None where nothing was typed.

    Raises:
        CorrectInputError: no day.
    """
    text = typed.get("promised_on", "").strip()
    if not text:
        return None
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError as cause:
        given = tr('the promised day is "{text}"', text=text[:20])
        raise CorrectInputError(given, tr("a day such as 2027-03-01"), tr("choose one")) from cause


def _complain(body: dict[str, Any], typed: Mapping[str, str], instrument: Instrument) -> None:
    """Put the complaint typed into what the visit begins with, the owner's words with it."""
    own = {name.removeprefix(COMPLAINT): text for name, text in typed.items() if name.startswith(COMPLAINT)}
    found = complaint_typed(own | {"words": typed.get("complaint", "")}, instrument)
    if found is not None:
        body["complaints"] = [found.model_dump(mode="json", exclude_unset=True)]
        service_from(json.dumps(body).encode(), tr("the complaint"))


def _put_typed(
    connection: Writing,
    stamp: Stamp,
    instrument_id: str,
    body: dict[str, Any],
    typed: Mapping[str, str],
    key: str | None,
    agreed: Mapping[str, Any],
) -> Visit:
    """Store the visit with the words typed and the price agreed, and return it; a claimed `key` is answered."""
    promised, came_in = promised_typed(typed), day_typed(typed.get("came_in_on", ""), stamp.at)
    visit = put_visit(connection, stamp, instrument_id, body, typed.get("complaint", "").strip(), came_in)
    besides = {"notes": typed.get("notes", "").strip(), "promised_on": promised}
    if any(besides.values()):
        visit = change_record(connection, visit, stamp, **besides)
    keep_hand(connection, instrument_id, _hand(typed), stamp)
    if agreed:
        add_record(connection, Line, stamp, visit_id=visit.id, **agreed)
    if key is not None:
        answer_key(connection, key, visit.id)
    return visit


def _owner(connection: Writing, stamp: Stamp, typed: Mapping[str, str]) -> str | None:
    """Return the owner chosen, or store the one typed; None where neither was given: the shop's own."""
    given = (typed.get(name, "") for name in ("owner", "contact", "owner_id"))
    owner = owner_typed(connection, stamp, *given)
    return None if owner is None else owner.id


def _with_owner(connection: Writing, one: InstrumentRecord) -> Known:
    owner = None if one.owner_id is None else one_record(connection, Owner, one.owner_id, deleted=True)
    return Known(one, owner)


def _hand(typed: Mapping[str, str]) -> str:
    hand = typed.get("hand", "")
    if hand and hand not in HANDS:
        raise CorrectInputError(
            tr('"{hand}" is no strength of play', hand=hand[:20]),
            tr("one of {hands}", hands=", ".join(HANDS)),
            "",
        )
    return hand


def _hours(typed: Mapping[str, str]) -> float | None:
    return _number(
        typed.get("playing_hours_per_week", ""), tr("hours of playing"), 0.0, 168.0, "a week", ("h",)
    )


def _number(text: str, what: str, low: float, high: float, unit: str, words: tuple[str, ...]) -> float | None:
    """Return the number typed, None where nothing was; a word of its unit may stand behind it."""
    if not text.strip():
        return None
    number = number_within(text, low, high, words)
    if number is None:
        raise CorrectInputError(
            tr('{what} is "{text}"', what=what, text=text[:20]),
            tr("a number from {low:g} to {high:g} {unit}", low=low, high=high, unit=unit),
            "",
        )
    return number
