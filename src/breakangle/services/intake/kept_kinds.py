"""A kind of instrument kept with the shop: made, changed, taken off the list and put back, its instruments with it."""

from breakangle.model.kind.kind_table import KindTable
from breakangle.model.words.speech import tr
from breakangle.services.service_files.kinds.copied import key_for, with_kind
from breakangle.services.visits.instrument_at_visit import correct_visit
from breakangle.services.visits.visits import checked_body, instrument_of
from breakangle.services.workshop.kinds import NAME, ShopKind, shop_kind
from breakangle.storage.records.lessons import forget_lesson
from breakangle.storage.records.overview import instrument_kinds, kinds_carried
from breakangle.storage.records.records import InstrumentRecord, Setting, Visit
from breakangle.storage.records.store import (
    Shop,
    Writing,
    add_record,
    change_record,
    one_record,
    records_where,
)
from breakangle.storage.schema.errors import EditedMeanwhileError, NoSuchRecordError
from breakangle.storage.schema.stamp import Stamp


def add_kind(shop: Shop, stamp: Stamp, table: KindTable, instrument_id: str = "") -> ShopKind:
    """Keep a new kind with the shop, and return it; the instrument that is named becomes one of it.

    Raises:
        CorrectInputError: a name without a letter or digit.
        NoSuchRecordError: no such instrument.
        ServiceFileError: what was read or done at an open visit cannot be of such an instrument.
    """
    with shop.writing() as connection:
        settings = records_where(connection, Setting, deleted=True)
        taken = {one.id.removeprefix(NAME) for one in settings if one.id.startswith(NAME)}
        taken |= set(instrument_kinds(connection))
        # An instrument's name tells of people, and a key stays for good: its kind is told from the nearest by a number.
        key = key_for(table.copied_from if instrument_id else table.words, taken)
        add_record(connection, Setting, stamp, NAME + key, value=_json(table))
        if instrument_id:
            _become(connection, one_record(connection, InstrumentRecord, instrument_id), key, table, stamp)
    return shop_kind(shop, key)


def change_kind(
    shop: Shop, stamp: Stamp, key: str, table: KindTable, seen_version: int | None = None
) -> ShopKind:
    """Keep a kind as it is now, and return it; its instruments and their visits not handed back have it so too.

    Visits that were handed back keep what they had. An instrument that came with another table of that name stays as
    it is.

    Raises:
        EditedMeanwhileError: somebody has changed it since `seen_version`.
        NoSuchRecordError: none of that key on the list.
    """
    with shop.writing() as connection:
        kept = one_record(connection, Setting, NAME + key)
        before = KindTable.model_validate_json(kept.value)
        if seen_version is not None and seen_version != kept.version:
            raise EditedMeanwhileError(tr("this kind"), before, table, kept.changed_by)
        change_record(connection, kept, stamp, value=_json(table))
        for record in records_where(connection, InstrumentRecord, kind=key):
            if instrument_of(record).kind_table == before:
                _become(connection, record, key, table, stamp)
    return shop_kind(shop, key)


def remove_kind(shop: Shop, stamp: Stamp, key: str) -> None:
    """Take a kind off the list; instruments of it keep their table, and it can be put back.

    Raises:
        NoSuchRecordError: none of that key on the list.
    """
    shop.delete(shop.get(Setting, NAME + key), stamp)


def put_back_kind(shop: Shop, stamp: Stamp, key: str) -> ShopKind:
    """Put a kind on the list that was taken off, or that an instrument from elsewhere carries, and return it.

    Raises:
        NoSuchRecordError: no such kind was on the list, and no instrument carries its table.
    """
    with shop.writing() as connection:
        try:
            kept = one_record(connection, Setting, NAME + key, deleted=True)
        except NoSuchRecordError:
            for record in records_where(connection, InstrumentRecord, kind=key):
                table = instrument_of(record).kind_table
                if table is not None:
                    add_record(connection, Setting, stamp, NAME + key, value=_json(table))
                    break
            else:
                raise
        else:
            if kept.deleted_at is not None:  # however long ago: nothing of it was let go
                change_record(connection, kept, stamp, deleted_at=None)
    return shop_kind(shop, key)


def kinds_off_list(shop: Shop) -> tuple[tuple[str, KindTable], ...]:
    """Return the kinds, with their tables, that were taken off the list or that only instruments carry."""
    found: dict[str, KindTable] = {}
    with shop.reading() as connection:
        settings = [
            one for one in records_where(connection, Setting, deleted=True) if one.id.startswith(NAME)
        ]
        on = {one.id.removeprefix(NAME) for one in settings if one.deleted_at is None}
        for one in settings:
            if one.deleted_at is not None:
                found[one.id.removeprefix(NAME)] = KindTable.model_validate_json(one.value)
        for key, instrument_id in kinds_carried(connection).items():
            if key not in on and key not in found:
                table = instrument_of(one_record(connection, InstrumentRecord, instrument_id)).kind_table
                if table is not None:
                    found[key] = table
    return tuple(sorted(found.items()))


def _become(connection: Writing, record: InstrumentRecord, key: str, table: KindTable, stamp: Stamp) -> None:
    """Let an instrument, and its visits not handed back, be of a kind."""
    before = instrument_of(record)
    made = with_kind(before, key, table)
    checked_body(made, record.targets)
    for visit in records_where(connection, Visit, instrument_id=record.id):
        if visit.handed_back_at is None:
            correct_visit(connection, visit, before, made, stamp)
    forget_lesson(connection, record.id)
    now = one_record(connection, InstrumentRecord, record.id)
    change_record(connection, now, stamp, kind=key, body=made.model_dump_json(exclude_unset=True))


def _json(table: KindTable) -> str:
    return table.model_dump_json(exclude_none=True)
