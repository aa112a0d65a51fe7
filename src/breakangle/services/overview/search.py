"""Finding things again: by words all over the shop, and the list of instruments a page at a time."""

from dataclasses import dataclass

from breakangle.model.words.speech import tr
from breakangle.reference.families import family_of
from breakangle.services.visits.visits import instrument_of
from breakangle.storage.records.overview import InstrumentRow, instrument_count, instrument_rows
from breakangle.storage.records.records import Attachment, InstrumentRecord, Line, Owner, Stock, Visit
from breakangle.storage.records.store import Shop, Writing, one_record, records_where
from breakangle.storage.schema.errors import NoSuchRecordError
from breakangle.storage.search.search import Hit, search
from breakangle.storage.search.search_near import meant

PAGE_COUNT = 60


@dataclass(frozen=True)
class Found:
    """One thing found: what it is, how it is called, what more there is to say, and where it belongs.

    `instrument_id` or `number` (of a sheet) say where to look; neither for what lies on the shelf.
    """

    kind: str
    title: str
    more: str
    instrument_id: str | None = None
    number: int | None = None


@dataclass(frozen=True)
class InstrumentPage:
    """One page of the list of instruments; pages count from 1."""

    rows: tuple[InstrumentRow, ...]
    page: int
    page_count: int
    count: int


def instruments_page(shop: Shop, page: int = 1) -> InstrumentPage:
    """Return one page of the instruments in the order of their names; a page past the end is the last."""
    with shop.reading() as connection:
        count = instrument_count(connection)
        pages = max(1, -(-count // PAGE_COUNT))
        at = min(max(page, 1), pages)
        rows = instrument_rows(connection, PAGE_COUNT, (at - 1) * PAGE_COUNT)
    return InstrumentPage(rows, at, pages, count)


def find(shop: Shop, words: str, most: int = 50) -> tuple[Found, ...]:
    """Return what holds every one of `words`, newest first; a sheet's number finds the sheet."""
    found: list[Found] = []
    with shop.reading() as connection:
        if words.strip().isdecimal() and len(words.strip()) < 10:
            numbered = records_where(connection, Visit, False, number=int(words))
            found += [_visit(connection, one) for one in numbered]
        for hit in search(connection, words, most):
            found += _shown(connection, hit)
    return tuple(dict.fromkeys(found))


def find_near(shop: Shop, words: str, most: int = 50) -> tuple[str, tuple[Found, ...]]:
    """Return the words that are most like `words` and are found, and what holds them; nothing where none is alike."""
    with shop.reading() as connection:
        instead = meant(connection, words)
    return (instead, find(shop, instead, most)) if instead else ("", ())


def _shown(connection: Writing, hit: Hit) -> list[Found]:
    """Return the hit as a person reads it; a deleted one is left out, an owner brings the instruments."""
    try:
        return _KINDS[hit.record_table](connection, hit.record_id)
    except NoSuchRecordError:
        return []


def _owner(connection: Writing, key: str) -> list[Found]:
    owner = one_record(connection, Owner, key)
    theirs = records_where(connection, InstrumentRecord, False, owner_id=key)
    if not theirs:
        return [Found("owner", owner.name, owner.contact)]
    return [Found("instrument", one.name, owner.name, one.id) for one in theirs]


def _instrument(connection: Writing, key: str) -> list[Found]:
    one = one_record(connection, InstrumentRecord, key)
    owner = one_record(connection, Owner, one.owner_id, deleted=True) if one.owner_id else None
    # Whose owner is deleted is still here to be worked on: found, without that name.
    told = (
        owner.name
        if owner is not None and owner.deleted_at is None
        else tr(family_of(instrument_of(one)).words)
    )
    return [Found("instrument", one.name, told, one.id)]


def _visit(connection: Writing, visit: Visit) -> Found:
    name = one_record(connection, InstrumentRecord, visit.instrument_id).name
    return Found("visit", name, visit.complaint, visit.instrument_id, visit.number)


def _stock(connection: Writing, key: str) -> list[Found]:
    one = one_record(connection, Stock, key)
    return [Found("stock", one.words, str(one.held_count))]


def _line(connection: Writing, key: str) -> list[Found]:
    line = one_record(connection, Line, key)
    return [_visit(connection, one_record(connection, Visit, line.visit_id))]


def _attachment(connection: Writing, key: str) -> list[Found]:
    one = one_record(connection, Attachment, key)
    return [Found("attachment", one.name, one.kind, one.instrument_id)]


_KINDS = {
    "owner": _owner,
    "instrument": _instrument,
    "visit": lambda connection, key: [_visit(connection, one_record(connection, Visit, key))],
    "stock": _stock,
    "line": _line,
    "attachment": _attachment,
}
