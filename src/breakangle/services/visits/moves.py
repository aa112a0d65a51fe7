"""Visits moved from state to state, and opened again: their instrument is then as it has been put right since."""

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.services.visits.instrument_at_visit import open_again
from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import Shop, Writing, change_record
from breakangle.storage.schema.stamp import Stamp
from breakangle.storage.schema.tables import STATES


def move_visit(shop: Shop, seen: Visit, state: str, stamp: Stamp) -> Visit:
    """Return the visit in its new state: waiting, on the bench, settling, ready or handed back.

    One that was handed back, and is not any more, has its instrument as it was put right since.

    Raises:
        CorrectInputError: no such state, or a visit that is open for an amendment.
        EditedMeanwhileError: somebody has changed the visit since it was seen.
        ServiceFileError: what was read or done at a visit opened again cannot be of its instrument as it is known now.
    """
    if state not in STATES:
        raise CorrectInputError(
            tr('"{state}" is no state of work', state=state),
            tr("one of {states}", states=", ".join(STATES)),
            tr("choose one"),
        )
    if state == seen.state:  # it went back on the day it went back, however often that is said
        return seen
    if seen.amending is not None:
        raise CorrectInputError(
            tr("sheet {number} is open for an amendment", number=seen.number),
            tr("it was handed back, and stays so"),
            tr("close it again; if the instrument is here again, take it in anew"),
        )
    back = stamp.at if state == STATES[-1] else None
    with shop.writing() as connection:
        moved = change_record(connection, seen, stamp, state=state, handed_back_at=back, moved_at=stamp.at)
        return opened_again(connection, seen, moved, stamp)


def opened_again(connection: Writing, before: Visit, now: Visit, stamp: Stamp) -> Visit:
    """Return a visit as it is `now`, its instrument put right if it is open and was not `before`.

    Raises:
        ServiceFileError: what was read or done at the visit cannot be of its instrument as it is known now.
    """
    closed_at = before.deleted_at or before.handed_back_at
    if closed_at is None or now.deleted_at is not None or now.handed_back_at is not None:
        return now
    return open_again(connection, now, closed_at, stamp)
