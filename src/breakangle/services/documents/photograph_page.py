"""One photograph of a visit: its caption, what a finger marked on it, where it stands on the owner's sheet; removed."""

import json
from collections.abc import Sequence
from dataclasses import dataclass

from breakangle.documents.renderers.pictures import Strokes
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.services.documents.hand_back.photograph_pairs import (
    pair_photographs,
    partner_of,
    side_by_side,
)
from breakangle.services.documents.hand_back.photographs import LONGEST_CAPTION, strokes_of
from breakangle.services.documents.hand_back.sheet_place import SHOWN
from breakangle.services.records.edit import bring_back
from breakangle.storage.records.closings import refuse_closed
from breakangle.storage.records.entries import hold_visit
from breakangle.storage.records.records import Attachment, Visit
from breakangle.storage.records.store import Shop, change_record, one_record, records_where
from breakangle.storage.schema.errors import EditedMeanwhileError, NoSuchRecordError
from breakangle.storage.schema.stamp import Stamp

MOST_STROKES, MOST_POINTS = 40, 4000  # on one photograph: more than a hand draws, and a page must not wait


@dataclass(frozen=True)
class Shown:
    """A photograph as a page shows it: its record and the lines marked on it, as shares of its width and height."""

    record: Attachment
    strokes: Strokes

    @property
    def lines(self) -> tuple[str, ...]:
        """Return each line's points as SVG writes them, in a square of 1000."""
        return tuple(" ".join(f"{1000 * x:.0f},{1000 * y:.0f}" for x, y in stroke) for stroke in self.strokes)


def photographs(shop: Shop, visit: Visit) -> tuple[Shown, ...]:
    """Return the visit's photographs with their marks, oldest first."""
    return tuple(
        Shown(record, strokes_of(record))
        for record in shop.every(Attachment, visit_id=visit.id, kind="photograph")
    )


def pairs_shown(photographs: Sequence[Shown]) -> tuple[tuple[Shown, Shown], ...]:
    """Return the pairs among a visit's photographs, before and after."""
    known = {one.record.id: one for one in photographs}
    return tuple(
        (known[before.id], known[after.id])
        for before, after in side_by_side([one.record for one in photographs])
        if before is not None and after is not None
    )


def photograph(shop: Shop, visit: Visit, key: str) -> Shown:
    """Return one photograph of the visit.

    Raises:
        NoSuchRecordError: the visit has none of that name.
    """
    record = shop.get(Attachment, key)
    _of(record, visit)
    return Shown(record, strokes_of(record))


@dataclass(frozen=True)
class PhotographTyped:
    """What was typed of a photograph; `version` is the one that the person saw, `pair` its partner: None is untold."""

    caption: str = ""
    shown: str = ""
    marks: str = ""
    version: str | None = None
    pair: str | None = None


def write_photograph(shop: Shop, visit: Visit, key: str, typed: PhotographTyped, stamp: Stamp) -> Attachment:
    """Store caption, marks, place on the owner's sheet and pair over what the person saw, and return it.

    Raises:
        CorrectInputError: a caption too long, marks that are no lines, no such place, or no such pair.
        EditedMeanwhileError: somebody has changed it since.
        NoSuchRecordError: the visit has none of that name.
        VisitClosedError: the visit is closed.
    """
    caption, shown = typed.caption.strip(), typed.shown
    if len(caption) > LONGEST_CAPTION:
        raise CorrectInputError(
            tr("a caption of {caption_count} characters", caption_count=len(caption)),
            tr("{longest_caption} at most", longest_caption=LONGEST_CAPTION),
            tr("make it shorter"),
        )
    if shown not in ("", *SHOWN):
        raise CorrectInputError(
            tr('"{shown}" is no place on the sheet', shown=shown[:20]),
            tr("one of {shown}", shown=", ".join(SHOWN)),
            tr("choose one"),
        )
    written = {
        "caption": caption or None,
        "shown": shown or None,
        "marks": marks_typed(typed.marks),
    }
    with shop.writing() as connection:
        hold_visit(connection, visit.id)
        record = one_record(connection, Attachment, key)
        _of(record, visit)
        if typed.version not in (None, str(record.version)):
            raise EditedMeanwhileError(tr("this photograph"), record, written, record.changed_by)
        changed = change_record(connection, record, stamp, **written)
        others = records_where(connection, Attachment, visit_id=visit.id, kind="photograph")
        if typed.pair is not None and typed.pair != partner_of(record, others):
            pair_photographs(connection, visit, changed, typed.pair, stamp)
        return one_record(connection, Attachment, key)


def remove_photograph(shop: Shop, visit: Visit, key: str, stamp: Stamp) -> None:
    """Remove a photograph; for 30 days it can be brought back.

    Raises:
        NoSuchRecordError: the visit has none of that name.
        VisitClosedError: the visit is closed.
    """
    with shop.writing() as connection:
        hold_visit(connection, visit.id)
        record = one_record(connection, Attachment, key, deleted=True)
        _of(record, visit)
        if record.deleted_at is None:
            change_record(connection, record, stamp, deleted_at=stamp.at)


def restore_photograph(shop: Shop, visit: Visit, key: str, stamp: Stamp) -> None:
    """Bring a removed photograph back; one that is there stays as it is.

    Raises:
        CorrectInputError: it was removed more than 30 days ago.
        NoSuchRecordError: the visit has none of that name.
        VisitClosedError: the visit is closed.
    """
    record = shop.get(Attachment, key, deleted=True)
    _of(record, visit)
    with shop.reading() as connection:
        refuse_closed(one_record(connection, Visit, visit.id))
    if record.deleted_at is not None:
        bring_back(shop, "attachment", key, stamp)


def marks_typed(text: str) -> str | None:
    """Return the lines drawn on a photograph as they are stored, points to a thousandth; None where there are none.

    Raises:
        CorrectInputError: no lines of points between 0 and 1, or too many.
    """
    if not text.strip():
        return None
    try:
        lines = [[(round(float(x), 3), round(float(y), 3)) for x, y in line] for line in json.loads(text)]
    except (ValueError, TypeError) as cause:
        raise CorrectInputError(tr("the marks are no lines of points"), "", tr("draw them again")) from cause
    points = [share for line in lines for point in line for share in point]
    if not all(0.0 <= share <= 1.0 for share in points):
        raise CorrectInputError(tr("a mark lies outside the photograph"), "", tr("draw it again"))
    if len(lines) > MOST_STROKES or len(points) > 2 * MOST_POINTS:
        given = tr(
            "{lines_count} lines of {points_count} points",
            lines_count=len(lines),
            points_count=len(points) // 2,
        )
        raise CorrectInputError(
            given,
            tr(
                "{most_strokes} lines, {most_points} points at most",
                most_strokes=MOST_STROKES,
                most_points=MOST_POINTS,
            ),
            tr("take some away"),
        )
    return json.dumps(lines) if lines else None


def _of(record: Attachment, visit: Visit) -> None:
    if record.visit_id != visit.id or record.kind != "photograph":
        raise NoSuchRecordError(
            tr("sheet {visit_number} has no such photograph", visit_number=visit.number),
            "",
            tr("look at the sheet again"),
        )
