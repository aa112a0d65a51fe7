"""What is known of an instrument put right: a correction of what was told, not work that was done on it."""

from collections.abc import Mapping

from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument
from breakangle.model.words.speech import mark, tr
from breakangle.model.words.unit_said import as_told
from breakangle.services.intake.instrument_boxes import STRING_BOXES, YES, boxes_told
from breakangle.services.intake.typed_instrument import instrument_typed
from breakangle.services.visits.instrument_at_visit import correct_visit
from breakangle.services.visits.visits import checked_body, instrument_of, visit_numbered
from breakangle.storage.records.closings import refuse_closed
from breakangle.storage.records.lessons import forget_lesson
from breakangle.storage.records.records import InstrumentRecord, Owner, Visit
from breakangle.storage.records.store import (
    Shop,
    Writing,
    add_record,
    change_record,
    one_record,
    records_where,
)
from breakangle.storage.schema.errors import EditedMeanwhileError
from breakangle.storage.schema.stamp import Stamp

NOTHING = (mark("nothing is changed"), "", mark("change what is wrong"))


def correct_instrument(
    shop: Shop,
    key: str,
    boxes: Mapping[str, str],
    stamp: Stamp,
    own_unit: str = "mm",
    seen_version: int | None = None,
) -> InstrumentRecord:
    """Store an instrument as it really is, and return it; visits that are not handed back have it so too.

    Visits that were handed back keep what they had, until one is opened again. Strings that went on at an open
    visit are corrected there, in the entry that says so.

    Args:
        shop: where.
        key: the instrument's record.
        boxes: those that were changed, as `instrument_typed` has them; `owner`, and `owner_id` where one was
            offered, if empty.
        stamp: who and when.
        own_unit: the unit of a bare length, `mm` or `in`.
        seen_version: of the record that the person had before them.

    Raises:
        CorrectInputError: what cannot be right, or nothing was changed.
        EditedMeanwhileError: somebody has changed it since: `theirs` and `yours` hold both.
        ServiceFileError: what was read, done or wished cannot be of such an instrument.
    """
    return _put_right(shop, key, boxes, stamp, own_unit, seen_version)


def correct_by_names(
    shop: Shop,
    number: int,
    typed: Mapping[str, str],
    stamp: Stamp,
    own_unit: str = "mm",
    seen_version: int | None = None,
) -> InstrumentRecord:
    """Store the instrument of sheet `number` as `correct_instrument` does: each box by its name.

    One that says what `boxes_told` says of it corrects nothing.

    Raises:
        CorrectInputError: a name that is no box of this instrument, what cannot be right, or nothing is changed.
        EditedMeanwhileError: its version is not `seen_version` any more: `theirs` and `yours` hold both.
        NoSuchRecordError: no such sheet.
        ServiceFileError: what was read, done or wished cannot be of such an instrument.
    """
    key = visit_numbered(shop, number).instrument_id
    there = instrument_of(shop.get(InstrumentRecord, key))
    stands = boxes_told(there, own_unit)
    known = (*stands, "owner", "owner_id")
    for name in typed:
        if name not in known:
            sizes = ", ".join(one for one in known if not one[-1].isdecimal())
            strings = ", ".join(f"{one}_N" for one in STRING_BOXES)
            raise CorrectInputError(
                tr('"{name}" is nothing that is told of this instrument', name=name[:40]),
                tr(
                    "one of {sizes}, or of a string from 1 to {strings_count} {strings}",
                    sizes=sizes,
                    strings_count=len(there.strings),
                    strings=strings,
                ),
                "",
            )
    boxes = {name: text.strip() for name, text in typed.items() if text.strip() != stands.get(name)}
    return _put_right(shop, key, boxes, stamp, own_unit, seen_version)


def said_as_told(shop: Shop, visit: Visit, string: str, stamp: Stamp) -> InstrumentRecord:
    """Store that the note and gauge of `string` are right, however it pulls; `all`: those of every string.

    Said twice, it is stored once.

    Raises:
        VisitClosedError: the visit was handed back.
        CorrectInputError: no such string.
    """
    refuse_closed(visit)
    record = shop.get(InstrumentRecord, visit.instrument_id)
    strings = instrument_of(record).strings
    told = {str(one.string): as_told(one) for one in strings}
    wanted = list(told) if string == "all" else [string]
    if all(told.get(one) for one in wanted):
        return record
    return correct_by_names(shop, visit.number, {f"as_told_{one}": YES for one in wanted}, stamp)


def _put_right(
    shop: Shop, key: str, boxes: Mapping[str, str], stamp: Stamp, own_unit: str, seen_version: int | None
) -> InstrumentRecord:
    """Store what these boxes tell of an instrument; who was offered owners of that name has an `owner_id`, if empty."""
    chosen = boxes.get("owner_id", "")
    told = {name: text for name, text in boxes.items() if name != "owner_id"}
    if not told and not chosen:
        raise CorrectInputError(*NOTHING)
    with shop.writing() as connection:
        record = one_record(connection, InstrumentRecord, key)
        if seen_version is not None and seen_version != record.version:
            raise EditedMeanwhileError(tr("this instrument"), record, told, record.changed_by)
        before = instrument_of(record)
        made = instrument_typed({**_other_cores(told), **told}, own_unit, before)
        owner_id = record.owner_id
        if chosen or "owner" in told:
            owner_id = _owner(connection, chosen, told.get("owner", ""), "owner_id" in boxes, stamp)
        if made == before and owner_id == record.owner_id:
            raise CorrectInputError(*NOTHING)
        checked_body(made, record.targets)
        for visit in records_where(connection, Visit, instrument_id=key):
            if visit.handed_back_at is None and made != before:
                correct_visit(connection, visit, before, made, stamp)
        forget_lesson(connection, key)
        now = one_record(connection, InstrumentRecord, key)  # correcting an entry may have changed it
        return change_record(connection, now, stamp, name=made.name, owner_id=owner_id, body=_json(made))


def _other_cores(boxes: Mapping[str, str]) -> dict[str, str]:
    """Return an empty core for each string of another gauge or make: the core it was told with is not its own."""
    names = [name.partition("_") for name in boxes]
    return {f"core_{number}": "" for name, _, number in names if name in ("gauge", "make")}


def _owner(connection: Writing, chosen: str, name: str, new: bool, stamp: Stamp) -> str | None:
    """Return the owner chosen from those found, else the one of this very name, else a new one; None: the shop's."""
    if chosen:
        return one_record(connection, Owner, chosen).id
    if not name:
        return None
    called = () if new else records_where(connection, Owner, name=name)
    if len(called) > 1:
        given = tr("{called_count} owners are called {name}", called_count=len(called), name=name)
        raise CorrectInputError(
            given, "", tr("choose one of those found while you type, or give its owner_id")
        )
    if called:
        return called[0].id
    return add_record(connection, Owner, stamp, name=name, contact="", notes="").id


def _json(instrument: Instrument) -> str:
    return instrument.model_dump_json(exclude_unset=True)
