"""The shop itself: reading and writing records, with versions, deletion, restoring and undo."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields
from datetime import timedelta
from typing import Any, TypeVar

from sqlalchemy import Connection, CursorResult, Table, insert, select, update

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.storage.connection.open_shop import OpenShop
from breakangle.storage.records import records
from breakangle.storage.records.closings import refuse_change, refuse_line
from breakangle.storage.records.due import reckon_again, reckon_no_more
from breakangle.storage.records.former import earlier, journal
from breakangle.storage.schema import tables
from breakangle.storage.schema.errors import EditedMeanwhileError, NoSuchRecordError
from breakangle.storage.schema.plain import can_be_stored
from breakangle.storage.schema.stamp import Stamp, new_id
from breakangle.storage.search.search import forget_words, keep_words

Writing = Connection  # what a transaction is to those who know no SQL
Found = TypeVar("Found", bound=records.Edited)
PORTION = 500  # keys asked for at once: a database takes only so many
RESTORABLE = timedelta(days=30)
TABLE_OF: dict[type[records.Edited], Table] = {
    records.Owner: tables.OWNER,
    records.InstrumentRecord: tables.INSTRUMENT,
    records.Visit: tables.VISIT,
    records.Gauge: tables.GAUGE,
    records.Stock: tables.STOCK,
    records.Price: tables.PRICE,
    records.Line: tables.LINE,
    records.Attachment: tables.ATTACHMENT,
    records.Setting: tables.SETTING,
    records.Device: tables.DEVICE,
    records.Procedure: tables.PROCEDURE,
    records.Run: tables.RUN,
    records.Used: tables.USED,
    records.Closing: tables.CLOSING,
}
COMMON = {one.name for one in fields(records.Edited)}


class Shop(OpenShop):
    """An open shop: its records, and the folder its blobs and backups lie in."""

    # -- one record -------------------------------------------------------------------------------------

    def get(self, kind: type[Found], key: str, deleted: bool = False) -> Found:
        """Return the record named `key`.

        Raises:
            NoSuchRecordError: none, or a deleted one unless `deleted`.
        """
        with self.reading() as connection:
            return one_record(connection, kind, key, deleted)

    def every(self, table_of: type[Found], /, deleted: bool = False, **where: Any) -> tuple[Found, ...]:
        """Return the records whose columns are as given, oldest first; deleted ones only if `deleted`."""
        with self.reading() as connection:
            return records_where(connection, table_of, deleted, **where)

    def add(self, table_of: type[Found], stamp: Stamp, key: str | None = None, /, **values: Any) -> Found:
        """Store a new record and return it."""
        with self.writing() as connection:
            return add_record(connection, table_of, stamp, key, **values)

    def change(self, seen: Found, stamp: Stamp, /, **values: Any) -> Found:
        """Store `values` over the record as it was `seen`, and return what stands now.

        Raises:
            EditedMeanwhileError: somebody has changed it since; both are kept for a person to choose.
            NoSuchRecordError: it has been deleted.
        """
        with self.writing() as connection:
            return change_record(connection, seen, stamp, **values)

    def delete(self, seen: Found, stamp: Stamp) -> Found:
        """Mark the record deleted; for 30 days it can be restored."""
        return self.change(seen, stamp, deleted_at=stamp.at)

    def restore(self, kind: type[Found], key: str, stamp: Stamp) -> Found:
        """Return a deleted record to its place.

        Raises:
            NoSuchRecordError: none of that name.
            CorrectInputError: it was deleted more than 30 days ago, or is not deleted.
        """
        with self.writing() as connection:
            return restore_record(connection, kind, key, stamp)

    def earlier(self, seen: records.Edited) -> tuple[dict[str, Any], ...]:
        """Return what stood in the record before, oldest first, who and when included."""
        with self.reading() as connection:
            return earlier(connection, TABLE_OF[type(seen)], seen.id)

    def undo(self, seen: Found, stamp: Stamp) -> Found:
        """Put back what stood there before the last change; undone once more, the change is back.

        Raises:
            CorrectInputError: it has never been changed.
        """
        with self.writing() as connection:
            return undo_record(connection, seen, stamp)


def one_record(connection: Connection, kind: type[Found], key: str, deleted: bool = False) -> Found:
    """Return the record named `key`.

    Raises:
        NoSuchRecordError: none, or a deleted one unless `deleted`.
    """
    table = TABLE_OF[kind]
    key = key if can_be_stored(key) else ascii(key)  # which no record is called
    row = connection.execute(select(table).where(table.c.id == key)).mappings().one_or_none()
    if row is None or (row["deleted_at"] is not None and not deleted):
        gone = tr("is deleted") if row is not None else tr("is not in this shop")
        raise NoSuchRecordError(f"{table.name} {key} {gone}", "", tr("look for it with `breakangle search`"))
    return kind(**row)


def hold_record(connection: Connection, kind: type[Found], key: str) -> None:
    """Keep other writers of this record waiting until the transaction ends (SQLite has one writer anyway)."""
    table = TABLE_OF[kind]
    connection.execute(select(table.c.id).where(table.c.id == key).with_for_update())


def records_where(
    connection: Connection, table_of: type[Found], /, deleted: bool = False, **where: Any
) -> tuple[Found, ...]:
    """Return the records whose columns are as given, oldest first; deleted ones only if `deleted`."""
    table = TABLE_OF[table_of]
    wanted = select(table).order_by(table.c.id)
    for name, value in where.items():
        wanted = wanted.where(table.c[name] == value)
    if not deleted:
        wanted = wanted.where(table.c.deleted_at.is_(None))
    return tuple(_made(table_of, connection.execute(wanted)))


def _made(table_of: type[Found], rows: CursorResult[Any]) -> Iterator[Found]:
    """Yield each row as its record; the names of the columns are asked for once, which halves the time of a list."""
    names = tuple(rows.keys())
    for row in rows:
        yield table_of(**dict(zip(names, row, strict=True)))


def records_among(
    connection: Connection, table_of: type[Found], column: str, keys: Sequence[str], deleted: bool = False
) -> tuple[Found, ...]:
    """Return the records whose column is one of `keys`, oldest first in each portion; deleted ones if `deleted`."""
    table, found = TABLE_OF[table_of], list[Found]()
    for start in range(0, len(keys), PORTION):
        wanted = select(table).where(table.c[column].in_(keys[start : start + PORTION])).order_by(table.c.id)
        if not deleted:
            wanted = wanted.where(table.c.deleted_at.is_(None))
        found += _made(table_of, connection.execute(wanted))
    return tuple(found)


def add_record(
    connection: Connection, table_of: type[Found], stamp: Stamp, key: str | None = None, /, **values: Any
) -> Found:
    """Store a new record and return it."""
    made: dict[str, Any] = {"id": key or new_id(stamp.at), "version": 1, "deleted_at": None}
    made |= {"created_at": stamp.at, "created_by": stamp.who, "changed_at": stamp.at, "changed_by": stamp.who}
    storable(values)
    refuse_line(connection, TABLE_OF[table_of], values)
    connection.execute(insert(TABLE_OF[table_of]).values(made | values))
    record = one_record(connection, table_of, made["id"])
    keep_words(connection, TABLE_OF[table_of].name, record)
    _changes_what_is_due(connection, record)
    return record


def change_record(connection: Connection, seen: Found, stamp: Stamp, /, **values: Any) -> Found:
    """Store `values` over the record as it was `seen`, its former content in the journal.

    Raises:
        EditedMeanwhileError: somebody has changed it since.
    """
    kind, table = type(seen), TABLE_OF[type(seen)]
    storable(values)
    refuse_change(connection, table, seen, values)
    mine: Mapping[str, Any] = values | {
        "version": seen.version + 1,
        "changed_at": stamp.at,
        "changed_by": stamp.who,
    }
    stands = table.c.id == seen.id, table.c.version == seen.version
    done = connection.execute(update(table).where(*stands).values(mine))
    if done.rowcount != 1:
        theirs = one_record(connection, kind, seen.id, deleted=True)
        raise EditedMeanwhileError(
            tr("this {table_name}", table_name=table.name), theirs, values, theirs.changed_by
        )
    before = {one.name: getattr(seen, one.name) for one in fields(seen)}
    journal(connection, table, before, stamp.at)
    record = one_record(connection, kind, seen.id, deleted=True)
    if record.deleted_at is None:
        keep_words(connection, table.name, record)
    else:
        forget_words(connection, record.id)
    _changes_what_is_due(connection, record)
    return record


def undo_record(connection: Connection, seen: Found, stamp: Stamp) -> Found:
    """Put back what stood in the record before its last change, as `Shop.undo` does, within a transaction."""
    before = earlier(connection, TABLE_OF[type(seen)], seen.id)
    if not before:
        raise CorrectInputError(tr("{id} was never changed", id=seen.id), "", tr("nothing needs undoing"))
    values = {name: value for name, value in before[-1].items() if name not in COMMON - {"deleted_at"}}
    return change_record(connection, seen, stamp, **values)


def restore_record(connection: Connection, kind: type[Found], key: str, stamp: Stamp) -> Found:
    """Return a deleted record to its place, as `Shop.restore` does, within a transaction."""
    seen = one_record(connection, kind, key, deleted=True)
    if seen.deleted_at is None:
        raise CorrectInputError(tr("{key} is not deleted", key=key), "", tr("nothing needs restoring"))
    if stamp.at - seen.deleted_at > RESTORABLE:
        days = (stamp.at - seen.deleted_at).days
        raise CorrectInputError(
            tr("{key} was deleted {days} days ago", key=key, days=days),
            tr("30 days at most"),
            tr("take a backup"),
        )
    return change_record(connection, seen, stamp, deleted_at=None)


def _changes_what_is_due(connection: Connection, record: records.Edited) -> None:
    if isinstance(record, records.InstrumentRecord):
        (reckon_no_more if record.deleted_at else reckon_again)(connection, record.id)
    elif isinstance(record, records.Visit):
        reckon_again(connection, record.instrument_id)


def storable(values: Mapping[str, Any]) -> None:
    """Refuse text that a database cannot hold.

    Raises:
        CorrectInputError: a NUL sign or half a sign in it.
    """
    for name, value in values.items():
        if isinstance(value, str) and not can_be_stored(value):
            raise CorrectInputError(
                tr("{name} holds a sign that cannot be stored", name=name),
                tr("plain text"),
                tr("type it again"),
            )


def any_record(shop: Shop, table_of: type[records.Edited]) -> bool:
    """Return whether there is any such record, deleted or not."""
    with shop.reading() as connection:
        return connection.execute(select(TABLE_OF[table_of].c.id).limit(1)).first() is not None
