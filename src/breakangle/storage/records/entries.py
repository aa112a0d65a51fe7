"""Readings and adjustments of a visit: taken once, never changed, superseded with the reason."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import cast

from sqlalchemy import Connection, func, insert, select
from sqlalchemy.exc import IntegrityError

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.storage.connection.changes import MARKED
from breakangle.storage.connection.moment import kept_here
from breakangle.storage.records.closings import refuse_closed
from breakangle.storage.records.due import reckon_again_after
from breakangle.storage.records.marks import carry, carry_also, entries_carried
from breakangle.storage.records.records import Entry, Visit
from breakangle.storage.records.store import Shop, one_record, storable
from breakangle.storage.schema import tables
from breakangle.storage.schema.errors import EditedMeanwhileError, NoSuchRecordError
from breakangle.storage.schema.plain import can_be_stored
from breakangle.storage.schema.stamp import Stamp, new_id

UNDONE, REDONE = "undone", "redone"  # reasons of entries that take another back, and that put it back again
ORDER = func.coalesce(tables.ENTRY.c.stands, tables.ENTRY.c.place)  # in which the work was done
AS_BEFORE = ""  # in place of a gauge: the one that the entry superseded was read with


def take_entry(
    connection: Connection,
    visit_id: str,
    kind: str,
    body: str,
    stamp: Stamp,
    gauge_id: str | None = None,
    stands: float | None = None,
    taken_at: datetime | None = None,
) -> Entry:
    """Store a reading or adjustment at the visit's next place and return it.

    Entered late, it `stands` elsewhere and was made at `taken_at`; the stamp says when it was entered.

    Raises:
        NoSuchRecordError: no such visit, or a deleted one.
    """
    visit = hold_visit(connection, visit_id)
    place = _last_place(connection, visit_id) + 1
    return _insert(connection, visit, place, kind, body, stamp, gauge_id, stands=stands, taken_at=taken_at)


def take_entries(
    connection: Connection,
    visit_id: str,
    found: Iterable[tuple[str, str]],
    stamp: Stamp,
    taken_at: datetime | None = None,
) -> None:
    """Store readings and adjustments, each a kind and a body, at the visit's next places, in one go.

    Raises:
        NoSuchRecordError: no such visit, or a deleted one.
    """
    visit = hold_visit(connection, visit_id)
    first = _last_place(connection, visit_id) + 1
    made = [
        vars(_entry(visit, place, kind, body, stamp, taken_at=taken_at))
        for place, (kind, body) in enumerate(found, first)
    ]
    if not made:
        return
    for values in made:
        storable(values)
    connection.execute(insert(tables.ENTRY).execution_options(**_told_by_mark(visit)), made)
    reckon_again_after(connection, visit.id)


def _last_place(connection: Connection, visit_id: str) -> int:
    last = select(func.coalesce(func.max(tables.ENTRY.c.place), 0)).where(tables.ENTRY.c.visit_id == visit_id)
    return int(connection.execute(last).scalar_one())


def place_before(entries: Sequence[Entry], later: Entry) -> float:
    """Return where an entry stands that was made just before `later`, among all `entries` of the visit.

    Raises:
        CorrectInputError: as many were put before it as there is room for.
    """
    earlier = max((one.order for one in entries if one.order < later.order), default=0.0)
    stands = (earlier + later.order) / 2.0
    if not earlier < stands < later.order:
        raise CorrectInputError(
            tr("there is no more room before this entry"), "", tr("enter it before an earlier one")
        )
    return stands


def supersede_entry(
    connection: Connection,
    old: Entry,
    body: str | None,
    reason: str,
    stamp: Stamp,
    gauge_id: str | None = AS_BEFORE,
) -> Entry:
    """Store what stands instead of `old` (None: it is withdrawn) and return it; `old` stays as it was.

    `gauge_id`: what it was read with this time; as it was before unless told.

    Raises:
        CorrectInputError: no reason.
        EditedMeanwhileError: somebody has superseded it already.
        NoSuchRecordError: the visit is deleted.
    """
    if not reason.strip():
        wanted = tr("a reading is superseded with the reason")
        raise CorrectInputError(tr("no reason is given"), wanted, tr("say why"))
    visit = hold_visit(connection, old.visit_id)
    theirs = connection.execute(
        select(tables.ENTRY).where(tables.ENTRY.c.supersedes == old.id)
    ).mappings().one_or_none()  # fmt: skip
    if theirs is not None:
        standing = Entry(**theirs)
        raise EditedMeanwhileError(tr("this {kind}", kind=old.kind), standing, body, standing.taken_by)
    gauge = old.gauge_id if gauge_id == AS_BEFORE else gauge_id
    kept = (old.place, old.kind, body, stamp, gauge)
    return _insert(connection, visit, *kept, supersedes=old.id, reason=reason, stands=old.stands)


def undo_entry(connection: Connection, entry: Entry, stamp: Stamp) -> Entry:
    """Take the entry back: what it superseded stands again, or, if nothing, it is withdrawn.

    Of one that took another back, this is putting it back again: its reason then is REDONE.

    Raises:
        EditedMeanwhileError: somebody has superseded it already.
    """
    if entry.supersedes is None:
        return supersede_entry(connection, entry, None, UNDONE, stamp)
    before = one_entry(connection, entry.supersedes)
    reason = REDONE if entry.reason == UNDONE else UNDONE
    return supersede_entry(connection, entry, before.body, reason, stamp, before.gauge_id)


def one_entry(connection: Connection, key: str) -> Entry:
    """Return the entry named `key`, superseded or not.

    Raises:
        NoSuchRecordError: there is none.
    """
    found = find_entry(connection, key)
    if found is None:
        raise NoSuchRecordError(
            tr("entry {key} is not in this shop", key=key), "", tr("list them with `breakangle visit`")
        )
    return found


def find_entry(connection: Connection, key: str) -> Entry | None:
    """Return the entry named `key`, superseded or not; None if there is none."""
    if not can_be_stored(key):  # which no entry is called
        return None
    row = connection.execute(select(tables.ENTRY).where(tables.ENTRY.c.id == key)).mappings().one_or_none()
    return None if row is None else Entry(**row)


def entry_sent(connection: Connection, key: str) -> Entry | None:
    """Return the entry that what was sent with this key was answered with; None if nothing was yet."""
    entry, answered = tables.ENTRY, tables.ANSWERED
    wanted = select(entry).join(answered, answered.c.answer == entry.c.id).where(answered.c.key == key)
    row = connection.execute(wanted).mappings().one_or_none()
    return None if row is None else Entry(**row)


def all_entries(connection: Connection, *visit_ids: str) -> tuple[Entry, ...]:
    """Return every entry of these visits, superseded ones included, in the order of the work and of time."""
    kept = kept_here(connection)
    if visit_ids not in kept:
        carried = entries_carried(connection, visit_ids[0]) if len(visit_ids) == 1 else None
        kept[visit_ids] = _entries_read(connection, visit_ids) if carried is None else carried
    return cast(tuple[Entry, ...], kept[visit_ids])


def _entries_read(connection: Connection, visit_ids: tuple[str, ...]) -> tuple[Entry, ...]:
    entry = tables.ENTRY
    wanted = (
        select(entry)
        .where(entry.c.visit_id.in_(visit_ids))
        .order_by(entry.c.visit_id, ORDER, entry.c.place, entry.c.id)
    )
    entries = tuple(Entry(**row) for row in connection.execute(wanted).mappings())
    if len(visit_ids) == 1:
        carry(connection, visit_ids[0], entries)
    return entries


def standing(entries: tuple[Entry, ...]) -> tuple[Entry, ...]:
    """Return of `entries` those that stand: not superseded, not withdrawn."""
    replaced = {one.supersedes for one in entries}
    return tuple(one for one in entries if one.id not in replaced and one.body is not None)


def entries_of(shop: Shop, visit_id: str) -> tuple[Entry, ...]:
    """Return every entry of the visit, superseded ones included."""
    with shop.reading() as connection:
        return all_entries(connection, visit_id)


def hold_visit(connection: Connection, visit_id: str) -> Visit:
    """Return the visit to write to, other writers kept waiting until the transaction ends (SQLite has one anyway).

    Raises:
        NoSuchRecordError: no such visit, or a deleted one.
        VisitClosedError: it was handed back, and nobody has opened it for an amendment.
    """
    if connection.dialect.name != "sqlite":
        connection.execute(select(tables.VISIT.c.id).where(tables.VISIT.c.id == visit_id).with_for_update())
    visit = one_record(connection, Visit, visit_id)
    refuse_closed(visit)
    return visit


def _insert(
    connection: Connection,
    visit: Visit,
    place: int,
    kind: str,
    body: str | None,
    stamp: Stamp,
    gauge_id: str | None,
    supersedes: str | None = None,
    reason: str | None = None,
    stands: float | None = None,
    taken_at: datetime | None = None,
) -> Entry:
    made = _entry(visit, place, kind, body, stamp, gauge_id, supersedes, reason, stands, taken_at)
    values = vars(made)
    storable(values)
    try:
        connection.execute(insert(tables.ENTRY).values(values).execution_options(**_told_by_mark(visit)))
    except IntegrityError as cause:
        raise NoSuchRecordError(
            tr("gauge {gauge_id} is not in this shop", gauge_id=gauge_id), "", tr("add it first")
        ) from cause
    carry_also(connection, made)
    reckon_again_after(connection, visit.id)
    return made


def _told_by_mark(visit: Visit) -> dict[str, bool]:
    return {MARKED: visit.handed_back_at is None}


def _entry(
    visit: Visit,
    place: int,
    kind: str,
    body: str | None,
    stamp: Stamp,
    gauge_id: str | None = None,
    supersedes: str | None = None,
    reason: str | None = None,
    stands: float | None = None,
    taken_at: datetime | None = None,
) -> Entry:
    late = taken_at is not None and taken_at < stamp.at
    return Entry(
        id=new_id(stamp.at), visit_id=visit.id, place=place, kind=kind, body=body, supersedes=supersedes,
        reason=reason, taken_at=taken_at if late and taken_at else stamp.at, taken_by=stamp.who, gauge_id=gauge_id,
        stands=stands, entered_at=stamp.at if late else None,
    )  # fmt: skip
