"""A reading as it is typed at the bench: understood, compared with what was expected, and stored at once."""

import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache, partial
from typing import Any

from breakangle.model.errors import BusyError, CorrectInputError, ReadAgainError
from breakangle.model.measure import parse_length, parse_number, says_unit
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.model.words.noun import Between
from breakangle.model.words.speech import tr
from breakangle.model.words.unit_said import KEYS, unit_open
from breakangle.planning.kinds.readings.pitch import FARTHEST_CENTS, Pitch, nominal_ratio, octave_hint
from breakangle.planning.state.board import board_of
from breakangle.services.plans.solved_visits import Expecting, expecting
from breakangle.services.visits.entries import put_entry, put_instead, sent_before, service_of, standing_held
from breakangle.services.visits.parsed_sheets import READING
from breakangle.services.visits.reading_places import Expected, Place, expected, place_of
from breakangle.services.visits.reasons import CLEARED, READ_AGAIN
from breakangle.services.visits.unit_answers import with_marks
from breakangle.services.workshop.gauges import uncertainty_with
from breakangle.storage.records.answered import answer_key
from breakangle.storage.records.entries import entries_of, standing
from breakangle.storage.records.records import Entry, Gauge, Visit
from breakangle.storage.records.store import Shop, Writing
from breakangle.storage.schema.errors import EditedMeanwhileError
from breakangle.storage.schema.stamp import Stamp

SURPRISING_SPREADS = 3.0  # common practice, no source
MANY_TYPED = 60
VALUES = ("mm", "cents", "hz", "uncertainty_mm", "uncertainty_cents")
Before = Callable[[], Expecting]  # what is believed before a visit is read, looked up where it is needed
PITCH_UNITS, SIGNS = ("c", "ct", "cent", "cents", "hz"), ("+", "-", "−")


@dataclass(frozen=True)
class TypedReading:
    """What became of a typed reading: the entry that stands now (None: taken away), and what was expected."""

    place: Place
    entry: Entry | None
    reading: Reading | None
    expected: Expected | None
    surprising: bool


def understood(text: str, place: Place, service: Service, own_unit: str = "mm") -> dict[str, float]:
    """Return what was typed for `place` under the key of its unit: `mm`, `cents` or `hz`.

    Args:
        text: what was typed.
        place: what is read, and where.
        service: the visit's service: what its string sounds tells hertz from cents.
        own_unit: the unit of a bare length, `mm` or `in`.

    Raises:
        CorrectInputError: no such reading, or one that could be two.
    """
    if place.kind.unit == "mm":
        low, high = _range_mm(place)
        return {"mm": round(parse_length(text, own_unit, low, high).mm, 4)}
    return _pitch(text, place, service)


def keep_typed(
    shop: Shop,
    visit: Visit,
    place: Place,
    text: str,
    stamp: Stamp,
    *,
    seen: str = "",
    own_unit: str = "mm",
    gauge: Gauge | None = None,
    key: str | None = None,
    again: bool = False,
) -> TypedReading:
    """Store what was typed for `place`, and return what stands there now; sent twice, it is stored once.

    What stands there already is superseded with the reason "read again"; nothing typed takes it away.

    Args:
        shop: the shop.
        visit: the visit.
        place: what was read, and where.
        text: what was typed.
        stamp: who, and when.
        seen: the entry that the person saw standing there; empty where they saw none.
        own_unit: the unit of a bare length, `mm` or `in`.
        gauge: what it was read with; its spread becomes the reading's uncertainty.
        key: the sender's own name for this reading, so that it is not stored twice.
        again: the plan asked for it once more: near what stands there it counts beside it, far off it takes its place.

    Raises:
        CorrectInputError: not understood.
        ServiceFileError: a place that this instrument does not have, or a value that cannot be right.
        EditedMeanwhileError: something else stands there by now: `theirs` is it, `yours` what would have replaced it.
    """
    service = service_of(shop, visit.id)
    believed = cache(partial(expecting, shop, visit.id, service))  # storing this does not change it
    body = _body(believed, service, place, text, own_unit, gauge) if text.strip() else None
    gauge_id = None if gauge is None else gauge.id
    with shop.writing() as connection:
        entry = _kept(connection, visit.id, place, body, stamp, seen, gauge_id, key, again)
    if entry is None:
        return TypedReading(place, None, None, None, False)
    return _told(believed, service, place, entry)


def keep_late(
    shop: Shop,
    visit: Visit,
    place: Place,
    text: str,
    stamp: Stamp,
    before: str,
    *,
    own_unit: str = "mm",
    gauge: Gauge | None = None,
) -> Entry:
    """Store what was read at `place` before the entry `before` was made, in its true place, and return its entry.

    Raises:
        CorrectInputError: not understood, or nothing typed.
        ServiceFileError: a place that this instrument did not have then, or a value that cannot be right.
        NoSuchRecordError: the visit has no such entry.
    """
    if not text.strip():
        raise CorrectInputError(tr("nothing is typed"), "", tr("type what it read"))
    service = service_of(shop, visit.id)
    believed = partial(expecting, shop, visit.id, service)
    body = _body(believed, service, place, text, own_unit, gauge)
    with shop.writing() as connection:
        gauge_id = None if gauge is None else gauge.id
        return put_entry(connection, visit.id, READING, body, stamp, gauge_id, before=before)


def taken_away(shop: Shop, visit: Visit, place: Place) -> str:
    """Return the entry by which the reading at `place` was taken away last; empty where none was."""
    every = entries_of(shop, visit.id)
    known = {one.id: one for one in every}
    gone = [one for one in every if one.reason == CLEARED and one.supersedes in known]
    there = [one.id for one in gone if _place_in(known[one.supersedes or ""]) == place]
    return max(there, default="")


def _body(
    before: Before, service: Service, place: Place, text: str, own_unit: str, gauge: Gauge | None
) -> dict[str, Any]:
    """Return what was typed as a reading's data, marked where its unit is doubted."""
    body = place.body(**understood(text, place, service, own_unit)) | uncertainty_with(gauge, place.quantity)
    doubtful = "mm" in body and not says_unit(text)
    return with_marks(body, text, _without(service, place), own_unit, before().belief if doubtful else None)


def standing_there(entries: Iterable[Entry], place: Place) -> Entry | None:
    """Return of a visit's standing entries that at `place` since the last adjustment; the latest of several."""
    found = None
    for entry in entries:
        if entry.kind != READING:
            found = None
        elif _place_in(entry) == place:
            found = entry
    return found


def placed(shop: Shop, visit_id: str) -> list[tuple[Entry, Place, int]]:
    """Return every standing reading with its place and the number of adjustments made before it."""
    found, done = [], 0
    for entry in standing(entries_of(shop, visit_id)):
        if entry.kind != READING:
            done += 1
            continue
        found.append((entry, _place_in(entry), done))
    return found


def reading_in(entry: Entry, place: Place) -> Reading:
    """Return the reading that an entry holds."""
    return place.kind.model.model_validate_json(entry.body or "{}")


def _place_in(entry: Entry) -> Place:
    body = json.loads(entry.body or "{}")
    held = tuple(body.get("held", ()))
    return Place(body["quantity"], body["string"], body["fret"], held, body.get("harmonic"))


def _kept(
    connection: Writing,
    visit_id: str,
    place: Place,
    body: dict[str, Any] | None,
    stamp: Stamp,
    seen: str,
    gauge_id: str | None,
    key: str | None,
    again: bool,
) -> Entry | None:
    """Return the entry that stands at `place` once `body` was stored there; None: nothing stands there.

    Looked up and stored in one transaction, so that of two who type at one moment the second sees the first.
    """
    sent = sent_before(connection, key, stamp)
    held = standing_held(connection, visit_id)
    there = standing_there(held, place)
    if sent is not None and (there is None or there.id == sent.id):
        return sent
    beside = again and there and body and place.agree(json.loads(there.body or "{}"), body)
    if there is None or beside:
        if body is None:
            return None
        return put_entry(connection, visit_id, READING, body, stamp, gauge_id, key, held=held)
    if body is not None and _same(there, body) and (there.id != seen or there.gauge_id == gauge_id):
        return there
    if there.id != seen:
        raise EditedMeanwhileError(tr("this reading"), there, body, there.taken_by)
    if body is None:
        put_instead(connection, there, None, CLEARED, stamp)
        return None
    entry = put_instead(connection, there, body, READ_AGAIN, stamp, gauge_id)
    if key is not None:
        answer_key(connection, key, entry.id)
    return entry


def _told(before: Before, service: Service, place: Place, entry: Entry) -> TypedReading:
    """Return the entry beside what everything but itself, in `service`, leads one to expect."""
    reading = reading_in(entry, place)
    if unit_open(reading):
        return TypedReading(place, entry, reading, None, False)
    try:
        beside = _without(service, place)
        now = before().after(beside)
        told = expected([place], now)[place]
        off = told.spreads_off(place.kind.value(reading, now.board))
    except (ReadAgainError, BusyError):  # it is stored all the same
        return TypedReading(place, entry, reading, None, False)
    return TypedReading(place, entry, reading, told, off > SURPRISING_SPREADS)


def _without(service: Service, place: Place) -> Service:
    last = len(service.work)
    rest = tuple(
        reading for reading in service.readings if reading.after != last or place_of(reading) != place
    )
    return service.model_copy(update={"readings": rest})


def _range_mm(place: Place) -> tuple[float, float]:
    told = place.kind.model.model_fields["mm"].metadata
    return next(((one.low, one.high) for one in told if isinstance(one, Between)), (-1e4, 1e4))


def _same(entry: Entry, body: dict[str, Any]) -> bool:
    """Return whether an entry holds the value of `body`, as sure as it."""
    before = json.loads(entry.body or "{}")
    return all(before.get(key) == body.get(key) for key in (*VALUES, *KEYS))


def _pitch(text: str, place: Place, service: Service) -> dict[str, float]:
    """Return cents or hertz; a bare number that can be both is refused with what it could be."""
    typed = text.strip()
    try:
        signed, unit = parse_number(typed, PITCH_UNITS)
    except CorrectInputError as cause:
        given = tr('"{typed}" is no pitch', typed=typed[:MANY_TYPED])
        raise CorrectInputError(given, tr("write it like -3, +2.5 c or 82.41 Hz"), cause.remedy) from cause
    sign, number = typed[:1] if typed[:1] in SIGNS else "", abs(signed)
    note_hz, reach = _note_hz(place, service), 2.0 ** (FARTHEST_CENTS / 1200.0)
    near_hz = note_hz / reach <= number <= note_hz * reach
    may_be_hz, may_be_cents = not sign and near_hz, number <= FARTHEST_CENTS
    if note_hz and not (near_hz if unit == "hz" else may_be_cents or (not unit and may_be_hz)):
        far = tr("−{farthest_cents:g} to {farthest_cents:g} cents", farthest_cents=FARTHEST_CENTS)
        near = tr("{note_hz:.2f} to {note_hz_2:.2f} Hz", note_hz=note_hz / reach, note_hz_2=note_hz * reach)
        hint = octave_hint(number, note_hz) if not sign else ""
        given = tr('"{typed}" is far from the note', typed=typed)
        raise CorrectInputError(given, tr("from {far}, or {near}", far=far, near=near), hint)
    if unit == "hz" or (not unit and may_be_hz and not may_be_cents):
        return {"hz": number}
    if not unit and may_be_hz:
        could_be = tr("{number:g} Hz or {number:g} cents from the note", number=number)
        given = tr('"{typed}" could be {could_be}', typed=typed, could_be=could_be)
        raise CorrectInputError(given, "", tr("type the unit as well: Hz or c"))
    return {"cents": -number if sign in ("-", "−") else number}


def _note_hz(place: Place, service: Service) -> float:
    board = board_of(service.instrument_now(), service.reference_hz)
    blank = place.blank()
    if not isinstance(blank, Pitch) or list(blank.misfits(service.instrument)):
        return 0.0
    return float(board.hz[place.string - 1]) * nominal_ratio(blank, board)
