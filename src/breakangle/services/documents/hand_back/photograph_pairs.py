"""Two photographs of one place, before and after, chosen as a pair: shown side by side on screen and on paper."""

from collections.abc import Iterable, Sequence

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.services.documents.hand_back.sheet_place import AFTER, BEFORE, SHOWN
from breakangle.storage.records.records import Attachment, Visit
from breakangle.storage.records.store import Writing, change_record, one_record, records_where
from breakangle.storage.schema.stamp import Stamp

Pair = tuple[Attachment | None, Attachment | None]


def side_by_side(photographs: Iterable[Attachment]) -> tuple[Pair, ...]:
    """Return the photographs chosen for the sheet, before beside after: pairs first, then the others one by one."""
    shown = [photograph for photograph in photographs if photograph.shown in SHOWN]
    before = {one.id: one for one in shown if one.shown == BEFORE}
    pairs: list[Pair] = [
        (before.pop(one.pair_id), one) for one in shown if one.shown == AFTER and one.pair_id in before
    ]
    paired = {one.id for pair in pairs for one in pair if one is not None}
    rest = [one for one in shown if one.id not in paired]
    pairs += [(one, None) if one.shown == BEFORE else (None, one) for one in rest]
    return tuple(pairs)


def partner_of(record: Attachment, photographs: Sequence[Attachment]) -> str:
    """Return the id of the photograph that this one is paired with; empty where there is none."""
    for before, after in side_by_side(photographs):
        if before is not None and after is not None and record.id in (before.id, after.id):
            return after.id if before.id == record.id else before.id
    return ""


def pair_photographs(
    connection: Writing, visit: Visit, record: Attachment, partner_id: str, stamp: Stamp
) -> None:
    """Pair a photograph that is shown before or after with another of the visit, which is shown on the other side.

    With no partner, a pair it was in is parted; both stay on the sheet.

    Raises:
        CorrectInputError: it is not on the sheet, or would be paired with itself or a photograph of another visit.
        NoSuchRecordError: no such photograph.
    """
    others = records_where(connection, Attachment, visit_id=visit.id, kind="photograph")
    if partner_id:
        if record.shown not in SHOWN:
            raise CorrectInputError(
                tr("a photograph that is not on the sheet"),
                tr("one shown before or after"),
                tr("choose which it shows"),
            )
        if partner_id == record.id or partner_id not in {other.id for other in others}:
            raise CorrectInputError(
                tr("that photograph"), tr("another one of this sheet"), tr("choose one of those shown")
            )
    for other in others:
        if other.pair_id is not None and {other.id, other.pair_id} & {record.id, partner_id}:
            change_record(connection, one_record(connection, Attachment, other.id), stamp, pair_id=None)
    if not partner_id:
        return
    side = BEFORE if record.shown == AFTER else AFTER
    partner = one_record(connection, Attachment, partner_id)
    if partner.shown != side:
        partner = change_record(connection, partner, stamp, shown=side)
    mine = one_record(connection, Attachment, record.id)
    before, after = (mine, partner) if record.shown == BEFORE else (partner, mine)
    change_record(connection, after, stamp, pair_id=before.id)
