"""A closed visit opened again for an amendment, with its reason; left as it was, or closed anew."""

import json

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.services.documents.hand_back.frozen import last_closing
from breakangle.storage.records.closings import written_since
from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import Shop, change_record, hold_record, one_record
from breakangle.storage.schema.stamp import Stamp

FEWEST_SIGNS, LONGEST_REASON = 3, 400


def open_amendment(shop: Shop, visit: Visit, reason: str, stamp: Stamp) -> Visit:
    """Open a closed visit for an amendment and return it; its sheets so far stay as they are.

    Raises:
        CorrectInputError: no reason, or a visit that is not closed.
        EditedMeanwhileError: somebody has opened it already.
    """
    why = reason.strip()
    if not FEWEST_SIGNS <= len(why) <= LONGEST_REASON:
        raise CorrectInputError(
            tr("a reason of {why_count} characters", why_count=len(why)),
            tr(
                "{fewest_signs} to {longest_reason}", fewest_signs=FEWEST_SIGNS, longest_reason=LONGEST_REASON
            ),
            tr("say what is amended, and why"),
        )
    if visit.closed_at is None:
        raise CorrectInputError(
            tr("sheet {visit_number} is not closed", visit_number=visit.number),
            "",
            tr("correct it as it stands"),
        )
    return shop.change(visit, stamp, closed_at=None, amending=why)


def leave_amendment(shop: Shop, visit: Visit, stamp: Stamp) -> Visit:
    """Close a visit again on which nothing was amended, without a new sheet, and return it.

    Raises:
        CorrectInputError: it is not open for an amendment, or something was written since.
    """
    last = last_closing(shop, visit)
    with shop.writing() as connection:
        hold_record(connection, Visit, visit.id)
        now = one_record(connection, Visit, visit.id)
        if now.amending is None:
            raise CorrectInputError(
                tr("sheet {visit_number} is not open for an amendment", visit_number=visit.number), "", ""
            )
        if written_since(connection, now, json.loads(last.body)):
            raise CorrectInputError(
                tr("something was amended already"),
                "",
                tr("close it with the amendment, so that both stay readable"),
            )
        return change_record(connection, now, stamp, closed_at=last.created_at, amending=None)
