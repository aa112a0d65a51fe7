"""Two records of one instrument joined by a person, with all their visits, and split again as they were.

What a closed sheet says is never touched: a visit keeps the instrument it was written of, and only moves to the other
history. What was moved, and what the kept one took over, is kept with the shop's settings, under the joined one's id.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.identity_marks import IDENTITY_MARKS, identity_marks
from breakangle.model.words.speech import tr
from breakangle.services.visits.instrument_identity.similar import refuse_unlike
from breakangle.services.visits.instrument_identity.strings_and_rod import newest_moment, strung_as
from breakangle.services.visits.visits import instrument_of
from breakangle.storage.records.lessons import forget_lesson
from breakangle.storage.records.records import Attachment, Edited, InstrumentRecord, Setting, Visit
from breakangle.storage.records.store import (
    Shop,
    Writing,
    add_record,
    change_record,
    one_record,
    records_among,
    records_where,
)
from breakangle.storage.schema.plain import can_be_stored
from breakangle.storage.schema.stamp import Stamp, from_utc_text, utc_text

JOINED = "joined:"
TAKEN_OVER = ("owner_id", "targets", "playing_hours_per_week", "hand")  # by one that has none of its own
MOMENT = "strings_changed_at"


@dataclass(frozen=True)
class Joining:
    """One instrument joined to another: which, when, by whom, and the sheets that came with it."""

    joined: InstrumentRecord
    kept_id: str
    at: datetime
    by: str
    sheets: tuple[int, ...]


def join_instruments(shop: Shop, kept_id: str, joined_id: str, stamp: Stamp) -> InstrumentRecord:
    """Make two records of one instrument one, and return the one that is kept; the other rests until they are split.

    All visits, recordings and photographs of the other go to the kept one, and what that has none of: owner, targets,
    serial number, tag. Strings and turns of the rod are those of the one that was here last.

    Raises:
        CorrectInputError: the same twice, or two that cannot be one instrument.
        NoSuchRecordError: no such instrument.
    """
    if kept_id == joined_id:
        raise CorrectInputError(
            tr("both are the same instrument already"), tr("two instruments"), tr("choose another")
        )
    with shop.writing() as connection:
        kept, joined = (one_record(connection, InstrumentRecord, key) for key in (kept_id, joined_id))
        refuse_unlike(instrument_of(kept), instrument_of(joined))
        taken = _taken_over(connection, kept, joined)
        before = {name: _plain(getattr(kept, name)) for name in taken}
        visits = records_where(connection, Visit, deleted=True, instrument_id=joined.id)
        attached = records_where(connection, Attachment, deleted=True, instrument_id=joined.id)
        for record in (*visits, *attached):
            change_record(connection, record, stamp, instrument_id=kept.id)
        now = change_record(connection, kept, stamp, **taken) if taken else kept
        change_record(connection, joined, stamp, deleted_at=stamp.at)
        memory = {
            "kept": kept.id,
            "visits": [visit.id for visit in visits],
            "attachments": [one.id for one in attached],
            "before": before,
            "after": {name: _plain(getattr(now, name)) for name in taken},
        }
        _remember(connection, joined.id, json.dumps(memory, ensure_ascii=False), stamp)
        _forget(connection, kept.id, joined.id)
        return now


def split_instruments(shop: Shop, joined_id: str, stamp: Stamp) -> InstrumentRecord:
    """Take an instrument that was joined out again, with its own visits, and return it.

    What the kept one took over goes back unless it was edited since; visits since the joining stay with the kept one.

    Raises:
        CorrectInputError: it is not joined, or the kept one was itself joined to another since.
    """
    with shop.writing() as connection:
        noted = _standing_note(connection, joined_id)
        if noted is None:
            raise CorrectInputError(
                tr("this instrument is not joined to another"), "", tr("nothing needs splitting")
            )
        memory = json.loads(noted.value)
        if _standing_note(connection, memory["kept"]) is not None:
            other = one_record(connection, InstrumentRecord, memory["kept"], deleted=True).name
            raise CorrectInputError(
                tr("{other} was itself joined to another since", other=other), "", tr("split that first")
            )
        kept = one_record(connection, InstrumentRecord, memory["kept"], deleted=True)
        joined = one_record(connection, InstrumentRecord, joined_id, deleted=True)
        _move_back(connection, memory, joined_id, stamp)
        joined = change_record(connection, joined, stamp, deleted_at=None)
        _give_back(connection, kept, joined, memory, stamp)
        change_record(connection, noted, stamp, deleted_at=stamp.at)
        _forget(connection, kept.id, joined.id)
        return one_record(connection, InstrumentRecord, joined_id)


def joinings_of(shop: Shop, kept_id: str) -> tuple[Joining, ...]:
    """Return what was joined to an instrument, and can be split from it, oldest first."""
    with shop.reading() as connection:
        return tuple(_joinings(connection, kept_id))


def joining_of_sheet(shop: Shop, visit: Visit) -> Joining:
    """Return the joining that a visit came to its instrument with.

    Raises:
        CorrectInputError: it came with none.
    """
    for one in joinings_of(shop, visit.instrument_id):
        if visit.number in one.sheets:
            return one
    raise CorrectInputError(
        tr("sheet {visit_number} came to its instrument with no joining", visit_number=visit.number),
        tr("a sheet of the instrument that was joined"),
        tr("see what is joined: breakangle instrument NUMBER"),
    )


def joined_into(shop: Shop, instrument_id: str) -> str | None:
    """Return the id of the instrument that this one is joined to; None where it stands by itself."""
    if not can_be_stored(instrument_id):  # which no instrument is called
        return None
    with shop.reading() as connection:
        noted = _standing_note(connection, instrument_id)
        return None if noted is None else str(json.loads(noted.value)["kept"])


def visits_joined_away(shop: Shop, instrument_ids: Sequence[str], known: Sequence[str]) -> tuple[Visit, ...]:
    """Return the visits that were these instruments' own before they were joined to another's, besides those known."""
    with shop.reading() as connection:
        keys: list[str] = []
        for one in instrument_ids:
            noted = _standing_note(connection, one)
            keys += json.loads(noted.value)["visits"] if noted is not None else []
        return records_among(connection, Visit, "id", [key for key in keys if key not in known], deleted=True)


def attachments_joined_away(shop: Shop, instrument_ids: Sequence[str]) -> frozenset[str]:
    """Return the recordings and photographs that were these instruments' own before they were joined to another's."""
    with shop.reading() as connection:
        noted = [_standing_note(connection, one) for one in instrument_ids]
    return frozenset(key for one in noted if one is not None for key in json.loads(one.value)["attachments"])


def refuse_joined(shop: Shop, record: Edited) -> None:
    """Refuse to bring back an instrument that rests because it is joined: its visits would stay behind.

    Raises:
        CorrectInputError: it is joined.
    """
    if isinstance(record, InstrumentRecord) and joined_into(shop, record.id) is not None:
        raise CorrectInputError(
            tr("{record_name} is joined to another", record_name=record.name),
            "",
            tr("split them: breakangle split"),
        )


def _joinings(connection: Writing, kept_id: str) -> list[Joining]:
    joinings = []
    for noted in records_where(connection, Setting):
        if not noted.id.startswith(JOINED):
            continue
        memory = json.loads(noted.value)
        if memory["kept"] == kept_id:
            record = one_record(connection, InstrumentRecord, noted.id.removeprefix(JOINED), deleted=True)
            sheets = records_among(connection, Visit, "id", memory["visits"])
            numbers = sorted(sheet.number for sheet in sheets)
            joinings.append(Joining(record, kept_id, noted.changed_at, noted.changed_by, tuple(numbers)))
    return sorted(joinings, key=lambda one: one.at)


def _standing_note(connection: Writing, joined_id: str) -> Setting | None:
    found = records_where(connection, Setting, id=JOINED + joined_id)
    return found[0] if found else None


def _remember(connection: Writing, joined_id: str, memory: str, stamp: Stamp) -> None:
    noted = records_where(connection, Setting, deleted=True, id=JOINED + joined_id)
    if noted:
        change_record(connection, noted[0], stamp, value=memory, deleted_at=None)
    else:
        add_record(connection, Setting, stamp, JOINED + joined_id, value=memory)


def _taken_over(connection: Writing, kept: InstrumentRecord, joined: InstrumentRecord) -> dict[str, Any]:
    """Return what the kept record says otherwise from now on, by column."""
    taken = {
        name: getattr(joined, name)
        for name in TAKEN_OVER
        if getattr(kept, name) is None and getattr(joined, name) is not None
    }
    if joined.notes and joined.notes not in kept.notes:
        taken["notes"] = f"{kept.notes}\n{joined.notes}".strip()
    body, others = json.loads(kept.body), json.loads(joined.body)
    body |= {name: mark for name, mark in identity_marks(others).items() if name not in identity_marks(body)}
    if newest_moment(connection, joined.id) > newest_moment(connection, kept.id):
        body = strung_as(body, others)
        if joined.strings_changed_at != kept.strings_changed_at:
            taken[MOMENT] = joined.strings_changed_at
    if body != json.loads(kept.body):
        taken["body"] = json.dumps(body, ensure_ascii=False)
    return taken


def _move_back(connection: Writing, memory: dict[str, Any], joined_id: str, stamp: Stamp) -> None:
    """Move the visits that came with the joined one back to it, with what was attached to them since."""
    moved = set(memory["visits"])
    here = {"instrument_id": memory["kept"]}
    for visit in records_where(connection, Visit, deleted=True, **here):
        if visit.id in moved:
            change_record(connection, visit, stamp, instrument_id=joined_id)
    for attachment in records_where(connection, Attachment, deleted=True, **here):
        if attachment.visit_id in moved or (
            attachment.visit_id is None and attachment.id in memory["attachments"]
        ):
            change_record(connection, attachment, stamp, instrument_id=joined_id)


def _give_back(
    connection: Writing,
    kept: InstrumentRecord,
    joined: InstrumentRecord,
    memory: dict[str, Any],
    stamp: Stamp,
) -> None:
    """Give each what it had: what the kept one took over, and the strings, unless they were changed since."""
    before, after = memory["before"], memory["after"]
    values = {
        name: _value(name, before[name])
        for name in before
        if name != "body" and _plain(getattr(kept, name)) == after[name]
    }
    now = json.loads(kept.body)
    body = dict(now)
    if "body" in before:
        was, took = json.loads(before["body"]), json.loads(after["body"])
        for name in IDENTITY_MARKS:
            if name not in was and name in took and body.get(name) == took[name]:
                body.pop(name)
        body = strung_as(body, was) if strung_as(body, took) == body else body
    if newest_moment(connection, joined.id) > newest_moment(connection, kept.id):
        # The joined one was here last: what is strung and turned now is what its own visits made of it.
        theirs = strung_as(json.loads(joined.body), now)
        own = {"body": json.dumps(theirs, ensure_ascii=False), MOMENT: kept.strings_changed_at}
        if theirs != json.loads(joined.body):
            change_record(connection, joined, stamp, **own)
        if "body" in before:
            body = strung_as(body, json.loads(before["body"]))
    if body != now:
        values["body"] = json.dumps(body, ensure_ascii=False)
    if values:
        change_record(connection, kept, stamp, **values)


def _plain(value: Any) -> Any:
    return utc_text(value) if isinstance(value, datetime) else value


def _value(name: str, plain: Any) -> Any:
    return from_utc_text(plain) if name == MOMENT and plain is not None else plain


def _forget(connection: Writing, *keys: str) -> None:
    for key in keys:
        forget_lesson(connection, key)
