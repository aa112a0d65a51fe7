"""Complaints of a visit: added, changed, taken off and answered; each change finds what the person had seen."""

import json
from collections.abc import Sequence

from breakangle.model.concern import Answer, Complaint
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.services.service_files.service import service_from
from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import Shop, Writing, change_record, hold_record, one_record
from breakangle.storage.schema.errors import EditedMeanwhileError
from breakangle.storage.schema.stamp import Stamp

MOST = 50


def complaints_in(visit: Visit) -> tuple[Complaint, ...]:
    """Return the visit's complaints in the order they were made."""
    return tuple(Complaint.model_validate(one) for one in json.loads(visit.body).get("complaints", ()))


def complaint_numbered(visit: Visit, number: int) -> Complaint:
    """Return one of the visit's complaints by its number in their order, from 1.

    Raises:
        CorrectInputError: there is none of that number.
    """
    found = complaints_in(visit)
    if not 1 <= number <= len(found):
        possible = tr("1 to {found_count}", found_count=len(found)) if found else tr("there is none yet")
        raise CorrectInputError(
            tr("complaint {number} of sheet {visit_number}", number=number, visit_number=visit.number),
            possible,
            tr("list them first"),
        )
    return found[number - 1]


def text_of(complaint: Complaint) -> str:
    """Return a complaint as text, for a page to send back what it had seen."""
    return complaint.model_dump_json(exclude_unset=True)


def seen_in(text: str) -> Complaint:
    """Return the complaint that `text_of` wrote.

    Raises:
        CorrectInputError: it is none.
    """
    try:
        return Complaint.model_validate_json(text)
    except ValueError as cause:
        raise CorrectInputError(
            tr("that is no complaint of this sheet"), "", tr("look at the sheet as it is now")
        ) from cause


def add_complaint(shop: Shop, visit: Visit, complaint: Complaint, stamp: Stamp) -> Visit:
    """Add a complaint to the visit and return it.

    Raises:
        ServiceFileError: a place that the instrument does not have.
        VisitClosedError: the visit is closed.
        CorrectInputError: there are fifty already.
    """
    with shop.writing() as connection:
        now = _held(connection, visit)
        there = complaints_in(now)
        if len(there) >= MOST:
            raise CorrectInputError(
                tr("{most} complaints on one sheet", most=MOST), tr("no more"), tr("take one off first")
            )
        return put_complaints(connection, now, (*there, complaint), stamp)


def change_complaint(
    shop: Shop, visit: Visit, seen: Complaint, instead: Complaint | None, stamp: Stamp
) -> Visit:
    """Put another complaint in the place of the one that was seen, or none, and return the visit.

    Raises:
        EditedMeanwhileError: somebody has changed it since.
        ServiceFileError: a place that the instrument does not have.
        VisitClosedError: the visit is closed.
    """
    with shop.writing() as connection:
        now = _held(connection, visit)
        there = list(complaints_in(now))
        if seen not in there:
            raise EditedMeanwhileError(tr("this complaint"), now, instead, now.changed_by)
        place = there.index(seen)
        there[place : place + 1] = [] if instead is None else [instead]
        return put_complaints(connection, now, there, stamp)


def answer_complaint(shop: Shop, visit: Visit, seen: Complaint, answer: Answer | None, stamp: Stamp) -> Visit:
    """Store what the owner is told about a complaint, and return the visit; None takes the answer away.

    Raises:
        EditedMeanwhileError: somebody has changed it since.
        VisitClosedError: the visit is closed.
    """
    data = seen.model_dump(mode="json", exclude_unset=True, exclude={"answer"})
    if answer is not None:
        data["answer"] = answer.model_dump(mode="json", exclude_unset=True)
    return change_complaint(shop, visit, seen, Complaint.model_validate(data), stamp)


def put_complaints(connection: Writing, visit: Visit, kept: Sequence[Complaint], stamp: Stamp) -> Visit:
    """Store the visit's complaints within a transaction and return the visit.

    Raises:
        ServiceFileError: a place that the instrument does not have.
    """
    body = json.loads(visit.body)
    body.pop("complaints", None)
    if kept:
        body["complaints"] = [one.model_dump(mode="json", exclude_unset=True) for one in kept]
    text = json.dumps(body, ensure_ascii=False)
    service_from(text.encode(), tr("sheet {visit_number}", visit_number=visit.number))
    return change_record(connection, visit, stamp, body=text)


def _held(connection: Writing, visit: Visit) -> Visit:
    hold_record(connection, Visit, visit.id)
    return one_record(connection, Visit, visit.id)
