"""Which of the shop's instruments another may be: shown side by side, and never joined without an answer."""

import json
from collections.abc import Iterable
from dataclasses import dataclass

from breakangle.model.errors import CorrectInputError
from breakangle.model.identity_marks import SERIAL_NUMBER, SHOP_TAG, identity_marks, share_a_mark
from breakangle.model.instrument import Instrument
from breakangle.model.words.speech import mark, tr
from breakangle.services.visits.visits import instrument_of
from breakangle.storage.records.marked import marked_instruments
from breakangle.storage.records.records import Attachment, InstrumentRecord, Owner, Visit
from breakangle.storage.records.store import Shop, Writing, one_record, records_where
from breakangle.storage.schema.errors import NoSuchRecordError

NEW = "new"  # the answer where it is another instrument
MOST_NUMBER_DIGITS = 9
SAID = {SERIAL_NUMBER: mark("serial number"), SHOP_TAG: mark("tag")}


@dataclass(frozen=True)
class KnownInstrument:
    """An instrument with what a person tells it by: whose it is, its marks, its sheets, its photographs."""

    record: InstrumentRecord
    instrument: Instrument
    owner: Owner | None
    marks: dict[str, str]
    visits: tuple[Visit, ...]
    photographs: tuple[Attachment, ...]

    @property
    def words(self) -> str:
        """Return it in one line."""
        whose = self.owner.name if self.owner else tr("no owner")
        marks = [f"{SAID[name]} {mark}" for name, mark in self.marks.items()]
        sheets = ", ".join(str(visit.number) for visit in self.visits) or tr("none")
        shown = (
            [tr("{photographs_count} photographs", photographs_count=len(self.photographs))]
            if self.photographs
            else []
        )
        return ", ".join([self.record.name, whose, *marks, tr("sheet {sheets}", sheets=sheets), *shown])


class InstrumentAskedError(CorrectInputError):
    """An instrument that may be one that is here: `known` are those it may be."""

    def __init__(self, name: str, known: tuple[KnownInstrument, ...]) -> None:
        """Ask whether they are the same instrument."""
        self.known = known
        there = "; ".join(one.words for one in known)
        super().__init__(
            tr("is {name} the same instrument as one that is here already", name=name),
            there,
            tr('say which: --instrument with its sheet\'s number, or "new"'),
        )


def known_instrument(connection: Writing, record: InstrumentRecord) -> KnownInstrument:
    """Return an instrument with what a person tells it by."""
    owner = None if record.owner_id is None else one_record(connection, Owner, record.owner_id, deleted=True)
    attached = records_where(connection, Attachment, instrument_id=record.id)
    visits = records_where(connection, Visit, instrument_id=record.id)
    return KnownInstrument(
        record,
        instrument_of(record),
        owner,
        identity_marks(json.loads(record.body)),
        tuple(sorted(visits, key=lambda one: (one.opened_at, one.number))),
        tuple(one for one in attached if one.kind == "photograph"),
    )


def seen_together(shop: Shop, keys: Iterable[str]) -> tuple[KnownInstrument, ...]:
    """Return these instruments as a person tells them apart.

    Raises:
        NoSuchRecordError: no such instrument.
    """
    with shop.reading() as connection:
        return tuple(
            known_instrument(connection, one_record(connection, InstrumentRecord, key)) for key in keys
        )


def may_be(connection: Writing, instrument: Instrument) -> tuple[InstrumentRecord, ...]:
    """Return the shop's instruments that this may be: of its serial number or tag, then of its name, kind and shape."""
    marks = identity_marks(instrument.model_extra or {})
    found = {one.id: one for one in carrying(connection, marks)}
    for record in records_where(connection, InstrumentRecord, name=instrument.name, kind=instrument.kind):
        theirs = instrument_of(record)
        if _shape(theirs) == _shape(instrument) and not _told_apart(theirs, marks):
            found.setdefault(record.id, record)
    return tuple(found.values())


def carrying(connection: Writing, marks: dict[str, str]) -> tuple[InstrumentRecord, ...]:
    """Return the instruments that have one of these marks, oldest first."""
    if not marks:
        return ()
    there = marked_instruments(connection)
    return tuple(one for one in there if share_a_mark(marks, identity_marks(json.loads(one.body))))


def chosen(
    connection: Writing, instrument: Instrument, there: tuple[InstrumentRecord, ...], answer: str
) -> InstrumentRecord | None:
    """Return the instrument that a person says it is; None where it is none of those that are here.

    `answer` is empty where nobody was asked yet, `new`, a record's id, or the number of one of its sheets.

    Raises:
        CorrectInputError: the one named is of another kind, or has other strings.
        InstrumentAskedError: it may be one of those `there`, and nobody has said.
        NoSuchRecordError: no such instrument or sheet.
    """
    if answer == NEW or not (answer or there):
        return None
    if not answer:
        raise InstrumentAskedError(instrument.name, tuple(known_instrument(connection, one) for one in there))
    record = one_record(connection, InstrumentRecord, _named(connection, answer))
    refuse_unlike(instrument, instrument_of(record))
    return record


def refuse_unlike(one: Instrument, other: Instrument) -> None:
    """Refuse to take two for the same that cannot be.

    Raises:
        CorrectInputError: they are of different kinds, or have different numbers of strings.
    """
    if (one.kind, len(one.strings)) != (other.kind, len(other.strings)):
        raise CorrectInputError(
            tr(
                "{name} is a {kind} with {strings_count} strings, {other_name} a {other_kind} with "
                "{strings_count_2}",
                name=one.name,
                kind=one.kind,
                strings_count=len(one.strings),
                other_name=other.name,
                other_kind=other.kind,
                strings_count_2=len(other.strings),
            ),
            tr("the same kind and number of strings"),
            tr("correct what was entered wrongly first, or choose another"),
        )


def _named(connection: Writing, answer: str) -> str:
    if not (answer.isdecimal() and len(answer) <= MOST_NUMBER_DIGITS):
        return answer
    visits = records_where(connection, Visit, number=int(answer))
    if not visits:
        raise NoSuchRecordError(
            tr("there is no sheet {answer}", answer=answer), "", tr("list them with `breakangle visits`")
        )
    return visits[0].instrument_id


def _told_apart(theirs: Instrument, marks: dict[str, str]) -> bool:
    """Return whether both have a serial number, and not the same: equals, but not one instrument."""
    known = identity_marks(theirs.model_extra or {})
    both = SERIAL_NUMBER in marks and SERIAL_NUMBER in known
    return both and not share_a_mark({SERIAL_NUMBER: marks[SERIAL_NUMBER]}, known)


def _shape(instrument: Instrument) -> tuple[float, int, int]:
    return instrument.scale_mm, instrument.frets, len(instrument.strings)
