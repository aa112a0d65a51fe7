"""Photographs on the owner's sheet: chosen before and after, with a caption and what a finger marked on them."""

import json
from collections.abc import Mapping

from breakangle.documents.renderers.page import Picture
from breakangle.documents.renderers.pictures import Strokes, photograph_svg
from breakangle.documents.sheets.hand_back import Photograph
from breakangle.model.errors import BreakangleError, BusyError, CorrectInputError
from breakangle.model.words.speech import mark, tr
from breakangle.services.documents.hand_back.photograph_pairs import side_by_side
from breakangle.services.documents.hand_back.sheet_place import AFTER, BEFORE, SHOWN
from breakangle.services.workers.queue import PICTURES
from breakangle.services.workshop.attachments import content_of
from breakangle.storage.records.entries import hold_visit
from breakangle.storage.records.records import Attachment, Visit
from breakangle.storage.records.store import Shop, change_record, one_record
from breakangle.storage.schema.stamp import Stamp

TALL_MM = 34.0  # chosen
MOST_SHOWN, LONGEST_CAPTION = 4, 200
SAID = {BEFORE: mark("As it came"), AFTER: mark("As it left")}


def photographs_of(shop: Shop, visit: Visit) -> tuple[Photograph, ...]:
    """Return the photographs chosen for the owner's sheet, pairs first; one that is damaged is left out."""
    found: list[Photograph] = []
    for number, pair in enumerate(side_by_side(shop.every(Attachment, visit_id=visit.id, kind="photograph"))):
        both = all(pair)
        pictures = [(one, _picture(shop, one)) for one in pair if one is not None]
        found += [
            Photograph(str(one.shown), picture, number if both else None)
            for one, picture in pictures
            if picture is not None
        ]
    return tuple(found[: 2 * MOST_SHOWN])


def _picture(shop: Shop, one: Attachment) -> Picture | None:
    """Return a photograph with its marks and caption for paper; None where it is damaged."""
    try:
        svg = PICTURES.run(photograph_svg, content_of(shop, one), strokes_of(one))
    except BusyError:
        raise
    except BreakangleError:
        return None  # `doctor` names it; the sheet is made all the same
    caption = (one.caption or "").strip()
    said = f"{SAID[str(one.shown)]}: {caption}" if caption else tr(SAID[str(one.shown)])
    return Picture(svg, tr("Photograph. {said}", said=said), said, TALL_MM)


def strokes_of(photograph: Attachment) -> Strokes:
    """Return the lines marked on a photograph, each a list of points as shares of its width and height."""
    if not photograph.marks:
        return ()
    try:
        return tuple(
            tuple((min(max(float(x), 0.0), 1.0), min(max(float(y), 0.0), 1.0)) for x, y in stroke)
            for stroke in json.loads(photograph.marks)
        )
    except (ValueError, TypeError):
        return ()


def choose_photographs(shop: Shop, visit: Visit, chosen: Mapping[str, tuple[str, str]], stamp: Stamp) -> None:
    """Keep of each photograph (by its name in the records) where it stands on the owner's sheet, and its caption.

    Raises:
        CorrectInputError: neither before nor after, more than four of one, or a caption without end.
        VisitClosedError: the visit is closed.
    """
    for when in SHOWN:
        count = sum(1 for shown, _ in chosen.values() if shown == when)
        if count > MOST_SHOWN:
            raise CorrectInputError(
                tr("{count} photographs {when}", count=count, when=when),
                tr("{most_shown} at most", most_shown=MOST_SHOWN),
                tr("choose fewer"),
            )
    with shop.writing() as connection:
        hold_visit(connection, visit.id)
        for key, (shown, caption) in chosen.items():
            there = one_record(connection, Attachment, key)
            if there.visit_id != visit.id or shown not in ("", *SHOWN) or len(caption) > LONGEST_CAPTION:
                raise CorrectInputError(
                    tr(
                        "a photograph {shown!r} with a caption of {caption_count} characters",
                        shown=shown[:20],
                        caption_count=len(caption),
                    ),
                    tr(
                        "before, after or not at all; {longest_caption} characters at most",
                        longest_caption=LONGEST_CAPTION,
                    ),
                    tr("choose again"),
                )
            mine = {"shown": shown or None, "caption": caption.strip() or None}
            if (there.shown, there.caption) != (mine["shown"], mine["caption"]):
                change_record(connection, there, stamp, **mine)
