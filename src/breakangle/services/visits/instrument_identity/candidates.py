"""Which instruments a person may join to one: those found by words, or those of its marks, its name and its kind."""

from breakangle.model.identity_marks import identity_marks, share_a_mark
from breakangle.services.visits.instrument_identity.similar import KnownInstrument, known_instrument
from breakangle.services.visits.visits import instrument_of
from breakangle.storage.records.records import InstrumentRecord
from breakangle.storage.records.store import Shop, Writing, one_record, records_where
from breakangle.storage.schema.errors import NoSuchRecordError
from breakangle.storage.search.search import search

MOST_SHOWN, MOST_HITS = 12, 60


def may_be_joined(
    shop: Shop, key: str, words: str = ""
) -> tuple[KnownInstrument, tuple[KnownInstrument, ...]]:
    """Return an instrument, and those that may be the same, the likeliest first; with `words`, those they find.

    Raises:
        NoSuchRecordError: no such instrument.
    """
    with shop.reading() as connection:
        kept = one_record(connection, InstrumentRecord, key)
        there = (
            _found(connection, words)
            if words.strip()
            else list(records_where(connection, InstrumentRecord, kind=kept.kind))
        )
        strings = len(instrument_of(kept).strings)
        others = [
            one
            for one in there
            if one.id != key and one.kind == kept.kind and len(instrument_of(one).strings) == strings
        ]
        ranked = sorted(others, key=lambda one: (not _same_mark(kept, one), one.name != kept.name, one.name))
        shown = tuple(known_instrument(connection, one) for one in ranked[:MOST_SHOWN])
        return known_instrument(connection, kept), shown


def _same_mark(one: InstrumentRecord, other: InstrumentRecord) -> bool:
    marks = (identity_marks(instrument_of(record).model_extra or {}) for record in (one, other))
    return share_a_mark(*marks)


def _found(connection: Writing, words: str) -> list[InstrumentRecord]:
    """Return the instruments that the words find, by their own or their owner's."""
    found: dict[str, InstrumentRecord] = {}
    for hit in search(connection, words, MOST_HITS):
        if hit.record_table == "instrument":
            try:
                found[hit.record_id] = one_record(connection, InstrumentRecord, hit.record_id)
            except NoSuchRecordError:
                continue
        if hit.record_table == "owner":
            theirs = records_where(connection, InstrumentRecord, owner_id=hit.record_id)
            found |= {one.id: one for one in theirs}
    return list(found.values())
