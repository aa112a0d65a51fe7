"""Readings and adjustments at the bench: each checked against the instrument, stored when it is made."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.reading import Adjustment, Reading
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.services.typed_values.past_days import day_typed, is_day
from breakangle.services.visits.parsed_sheets import ADJUSTMENT, READING, checked_body, sheet_service
from breakangle.services.visits.visits import later_visit, restrung
from breakangle.storage.records.answered import answer_key, claim_key
from breakangle.storage.records.entries import (
    AS_BEFORE,
    all_entries,
    find_entry,
    hold_visit,
    one_entry,
    place_before,
    standing,
    supersede_entry,
    take_entry,
    undo_entry,
)
from breakangle.storage.records.records import Entry, Visit
from breakangle.storage.records.store import Shop, Writing, one_record
from breakangle.storage.schema.errors import NoSuchRecordError
from breakangle.storage.schema.stamp import Stamp
from breakangle.storage.search.search import keep_words


def service_of(shop: Shop, visit_id: str) -> Service:
    """Return the visit as a service: what stands of its readings and work, in the order it was done.

    Raises:
        NoSuchRecordError: no such visit, or a deleted one.
    """
    with shop.reading() as connection:
        visit = one_record(connection, Visit, visit_id)
        entries = standing(all_entries(connection, visit_id))
    return sheet_service(visit, entries)


def take_reading(
    shop: Shop,
    visit_id: str,
    reading: Reading | Mapping[str, Any],
    stamp: Stamp,
    gauge_id: str | None = None,
    *,
    key: str | None = None,
    before: str | None = None,
) -> Entry:
    """Store a reading after the work done so far, and return its entry. It is safe once this returns.

    Sent again with the same `key`, it is not stored again: the entry stored then is returned. `before` names the
    entry that it was taken before, or the day it was taken on (2027-03-01), if it is entered late.

    Raises:
        ServiceFileError: a value that cannot be right, or a place this instrument does not have.
        NoSuchRecordError: no such visit or gauge.
        ShopOutOfReachError: it could not be stored; nothing of it was.
    """
    return _take(shop, visit_id, READING, reading, stamp, gauge_id, key, before)


def do_adjustment(
    shop: Shop,
    visit_id: str,
    adjustment: Adjustment | Mapping[str, Any],
    stamp: Stamp,
    *,
    key: str | None = None,
    before: str | None = None,
) -> Entry:
    """Store an adjustment that has been made, and return its entry; new strings go to the instrument too.

    Sent again with the same `key`, it is not stored again: the entry stored then is returned. `before` names the
    entry that it was made before, or the day it was made on (2027-03-01), if it is entered late.

    Raises:
        ServiceFileError: a value that cannot be right, or a place this instrument does not have.
        NoSuchRecordError: no such visit.
        ShopOutOfReachError: it could not be stored; nothing of it was.
    """
    return _take(shop, visit_id, ADJUSTMENT, adjustment, stamp, None, key, before)


def correct(shop: Shop, entry_id: str, instead: Mapping[str, Any] | None, reason: str, stamp: Stamp) -> Entry:
    """Store what stands instead of an entry (None: nothing), with the reason; the old one is kept as it was.

    Raises:
        CorrectInputError: no reason, or a value that cannot be right.
        EditedMeanwhileError: somebody has corrected it already: `theirs` and `yours` hold both.
    """
    with shop.writing() as connection:
        return put_instead(connection, one_entry(connection, entry_id), instead, reason, stamp)


def undo(shop: Shop, entry_id: str, stamp: Stamp) -> Entry:
    """Take an entry back: what it superseded stands again; if nothing, it no longer counts. It is kept.

    Raises:
        EditedMeanwhileError: somebody has corrected it already.
        ServiceFileError: what was done later cannot stand without it.
    """
    with shop.writing() as connection:
        return put_back(connection, one_entry(connection, entry_id), stamp)


# -- within a transaction ---------------------------------------------------------------------------------


def sent_before(connection: Writing, key: str | None, stamp: Stamp) -> Entry | None:
    """Return the entry that this key was answered with; None if nothing was, or there is no key."""
    told = None if key is None else claim_key(connection, key, stamp.at)
    return None if told is None else find_entry(connection, told)


def standing_held(connection: Writing, visit_id: str) -> tuple[Entry, ...]:
    """Return what stands of the visit, nobody else writing to it until the transaction ends.

    Raises:
        NoSuchRecordError: no such visit, or a deleted one.
    """
    hold_visit(connection, visit_id)
    return standing(all_entries(connection, visit_id))


def put_entry(
    connection: Writing,
    visit_id: str,
    kind: str,
    given: Any,
    stamp: Stamp,
    gauge_id: str | None = None,
    key: str | None = None,
    before: str | None = None,
    held: tuple[Entry, ...] | None = None,
) -> Entry:
    """Store a reading or adjustment within a transaction and return its entry; a claimed `key` is answered.

    `before` names the entry that it stands before, or the day it was made on; none: it stands last. `held` is what
    `standing_held` returned in this transaction, so that it is not read again.
    """
    visit = hold_visit(connection, visit_id)
    every = all_entries(connection, visit_id) if held is None or before is not None else held
    stood, (stands, taken_at) = standing(every), _late(visit, every, before, connection, stamp)
    earlier = stood if stands is None else tuple(one for one in stood if one.order < stands)
    body = checked_body(visit, earlier, kind, given)
    entry = take_entry(connection, visit_id, kind, body, stamp, gauge_id, stands, taken_at)
    if kind == ADJUSTMENT or stands is not None:
        _whole(visit, stood, [*stood, entry], connection, stamp)
    if key is not None:
        answer_key(connection, key, entry.id)
    return entry


def put_instead(
    connection: Writing,
    old: Entry,
    instead: Mapping[str, Any] | None,
    reason: str,
    stamp: Stamp,
    gauge_id: str | None = AS_BEFORE,
) -> Entry:
    """Store what stands instead of an entry, as `correct` does, within a transaction; `gauge_id` where it changed."""
    visit = hold_visit(connection, old.visit_id)
    stood = standing(all_entries(connection, visit.id))
    others = [entry for entry in stood if entry.id != old.id]
    body = None
    if instead is not None:
        before = [other for other in others if other.order < old.order]
        body = checked_body(visit, before, old.kind, instead)
    new = supersede_entry(connection, old, body, reason, stamp, gauge_id)
    _whole(visit, stood, [*others, new], connection, stamp)
    return new


def put_back(connection: Writing, old: Entry, stamp: Stamp) -> Entry:
    """Take an entry back, as `undo` does, within a transaction."""
    visit = hold_visit(connection, old.visit_id)
    stood = standing(all_entries(connection, visit.id))
    others = [entry for entry in stood if entry.id != old.id]
    new = undo_entry(connection, old, stamp)
    _whole(visit, stood, [*others, new], connection, stamp)
    return new


def _take(
    shop: Shop,
    visit_id: str,
    kind: str,
    given: Any,
    stamp: Stamp,
    gauge_id: str | None,
    key: str | None,
    before: str | None,
) -> Entry:
    with shop.writing() as connection:
        stored = sent_before(connection, key, stamp)
        return stored or put_entry(connection, visit_id, kind, given, stamp, gauge_id, key, before)


def _late(
    visit: Visit, every: Sequence[Entry], before: str | None, connection: Writing, stamp: Stamp
) -> tuple[float | None, datetime | None]:
    """Return where what is entered late stands among all entries of its visit, and when it was made.

    None where it is not late. What was made on a day stands before the first that was made after it.

    Raises:
        CorrectInputError: a day on which the instrument was not here.
        NoSuchRecordError: an entry of another visit.
    """
    if not before:
        return None, None
    if is_day(before):
        at = day_typed(before, stamp.at)
        _refuse_elsewhere(visit, at, before)
        after = next((one for one in every if at is not None and one.taken_at > at), None)
        return None if after is None else place_before(every, after), at
    later = one_entry(connection, before)
    if later.visit_id not in {one.visit_id for one in every}:
        raise NoSuchRecordError(
            tr("entry {before} is not on this sheet", before=before), "", tr("look at the sheet")
        )
    return place_before(every, later), min(later.taken_at, stamp.at)


def _refuse_elsewhere(visit: Visit, at: datetime | None, typed: str) -> None:
    """Refuse a day before the instrument came in, or after it went back."""
    came, left = visit.opened_at.astimezone().date(), visit.handed_back_at
    gone = None if left is None else left.astimezone().date()
    day = None if at is None else at.astimezone().date()
    if day is None or (came <= day and (gone is None or day <= gone)):
        return
    until = tr("today") if gone is None else str(gone)
    raise CorrectInputError(
        tr('the day is "{typed}"', typed=typed.strip()),
        tr("a day on which it was here: {came} to {until}", came=came, until=until),
        tr("type it again"),
    )


def _whole(
    visit: Visit, stood: Iterable[Entry], entries: Iterable[Entry], connection: Writing, stamp: Stamp
) -> None:
    """Check that what stands makes a service, and keep what the instrument has become since `stood` did."""
    stands = sorted((entry for entry in entries if entry.body is not None), key=lambda one: one.order)
    service = sheet_service(visit, stands)
    if _work(stands) == _work(stood):
        return  # what an instrument is, and what a visit is found by, follow from the work alone
    keep_words(connection, "visit", visit)
    if not later_visit(connection, visit):
        was = sheet_service(visit, (entry for entry in stood if entry.kind == ADJUSTMENT)).instrument_now()
        restrung(connection, visit, was, service.instrument_now(), stamp)


def _work(entries: Iterable[Entry]) -> list[str | None]:
    return [entry.body for entry in entries if entry.kind == ADJUSTMENT]
