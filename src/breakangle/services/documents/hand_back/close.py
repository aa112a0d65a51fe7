"""A visit closed: what stands open is asked, the sheet is made once and kept, and nothing is written over it."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import chain
from typing import Any

from breakangle.documents.renderers.page_html import page_html
from breakangle.documents.renderers.page_text import page_text
from breakangle.documents.renderers.page_units import in_inches
from breakangle.documents.sheets.complaints import COMPLAINT, OWN_WORDS
from breakangle.documents.sheets.done import done_words
from breakangle.documents.sheets.found import before_after_rows
from breakangle.documents.sheets.hand_back import HandBack, declined_words
from breakangle.documents.sheets.standing import Standing
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.reference.messages import words
from breakangle.services.documents.hand_back.frozen import FORMAT, closings_of
from breakangle.services.documents.hand_back.gate import (
    FIGURES,
    Asked,
    GateOpenError,
    asked_at_hand_back,
    unanswered,
)
from breakangle.services.documents.hand_back.words import Leaving, hand_back_of
from breakangle.services.documents.sheets import fitting_pdf, sheet_pages
from breakangle.services.plans.standings import Standings, standings
from breakangle.services.typed_values.past_days import day_typed
from breakangle.services.workshop.paper_heading import paper_of
from breakangle.storage.files.blobs import put_blob
from breakangle.storage.records.closings import beside_entries, signed_last
from breakangle.storage.records.entries import hold_visit
from breakangle.storage.records.marks import visit_marks
from breakangle.storage.records.records import Closing, Visit
from breakangle.storage.records.store import Shop, Writing, add_record, change_record
from breakangle.storage.schema.errors import EditedMeanwhileError
from breakangle.storage.schema.stamp import Stamp
from breakangle.storage.schema.tables import STATES

HANDED_BACK = STATES[-1]
IN_PLACE = (FIGURES, COMPLAINT, OWN_WORDS)  # whose reason stands where the sheet tells of them
LONGEST_REASON, LONGEST_NAME = 1000, 120
SHEET = "sheet"  # the kind of file that a finished sheet is kept as


@dataclass(frozen=True)
class Closes:
    """What closes a visit: reasons by what was asked, who signs, the paper, the sheet's code, whether in inches.

    `left_on` is the day it went back as it was typed, where that is entered later; empty: now.
    """

    reasons: Mapping[str, str]
    signed_by: str = ""
    on: str | None = None
    address: str = ""
    inch: bool = False
    left_on: str = ""


def close_visit(shop: Shop, visit: Visit, stamp: Stamp, given: Closes) -> Closing:
    """Hand the instrument back: store its finished sheet and what it says, and close the visit; return that.

    All of it is stored, or nothing. A visit opened for an amendment is closed again, with the reason of that.

    Raises:
        GateOpenError: something stands open without an answer or a reason.
        CorrectInputError: nobody has signed, words without end, or no day that it can have gone back on.
        VisitClosedError: the visit is closed already.
        EditedMeanwhileError: somebody wrote to the visit while its sheet was made.
        ReadAgainError: readings that no instrument fits.
    """
    left_at = visit.handed_back_at or _left_at(visit, given.left_on, stamp)
    with shop.reading() as connection:
        marks = _marks(connection, visit)
    found = standings(shop, visit)
    asked = asked_at_hand_back(visit, found)
    if missing := unanswered(asked, given.reasons):
        raise GateOpenError(missing)
    before = closings_of(shop, visit)
    leaving = _leaving(visit, asked, given, before, stamp, left_at)
    _checked(leaving)
    pages = sheet_pages(shop, visit, address=given.address, leaving=leaving, on_paper=False, inch=given.inch)
    if given.inch:
        pages = map(in_inches, pages)
    whole = next(pages)
    pdf, _ = fitting_pdf(chain((whole,), pages), paper_of(shop, given.on))
    body = _body(visit, found, hand_back_of(shop, visit, found, leaving=leaving), asked, given.reasons)
    body |= {"text": page_text(whole)} | marks
    return _stored(shop, visit, stamp, leaving, body, (pdf, page_html(whole).encode()), len(before) + 1)


def _left_at(visit: Visit, typed: str, stamp: Stamp) -> datetime:
    """Return when the instrument went back; of a day the noon, or the moment it came in where that was later."""
    left = day_typed(typed, stamp.at) or stamp.at
    came = visit.opened_at.astimezone().date()
    if left.astimezone().date() < came:
        raise CorrectInputError(
            tr('the day it went back is "{typed}"', typed=typed.strip()),
            tr("a day from {came} on, when it came in", came=came),
            tr("type it again"),
        )
    return max(left, visit.opened_at)


def _leaving(
    visit: Visit,
    asked: tuple[Asked, ...],
    given: Closes,
    before: tuple[Closing, ...],
    stamp: Stamp,
    left_at: datetime,
) -> Leaving:
    figures = f"{FIGURES}:"
    written = {one.key.removeprefix(figures): given.reasons[one.key] for one in asked if one.sort in IN_PLACE}
    rest = [(words(one.message), given.reasons[one.key].strip()) for one in asked if one.sort not in IN_PLACE]
    amended = [(one.created_at.astimezone().date(), one.reason) for one in before[1:]]
    if visit.amending:
        amended.append((stamp.at.astimezone().date(), visit.amending))
    return Leaving(left_at, given.signed_by.strip(), written, tuple(rest), tuple(amended))


def _checked(leaving: Leaving) -> None:
    if not leaving.signed:
        raise CorrectInputError(
            tr("nobody has signed"), tr("the name of the person who answers for it"), tr("sign it")
        )
    told = [*leaving.written.values(), *(reason for _, reason in leaving.asked)]
    longest = max((len(one) for one in told), default=0)
    if longest > LONGEST_REASON or len(leaving.signed) > LONGEST_NAME:
        raise CorrectInputError(
            tr(
                "a reason of {longest} characters, signed with {signed_count}",
                longest=longest,
                signed_count=len(leaving.signed),
            ),
            tr(
                "{longest_reason} and {longest_name} at most",
                longest_reason=LONGEST_REASON,
                longest_name=LONGEST_NAME,
            ),
            tr("make it shorter"),
        )


def _body(
    visit: Visit, found: Standings, said: HandBack, asked: tuple[Asked, ...], reasons: Mapping[str, str]
) -> dict[str, Any]:
    """Return what was read, done, expected and said, as data that later versions read as it stands."""
    instrument = found.service.instrument_now()
    return {
        "format": FORMAT,
        "sheet": visit.number,
        "service": found.service.model_dump(mode="json", exclude_unset=True),
        "verdict": found.plan.verdict,
        "figures": before_after_rows(said.standing),
        "expected": _expected(said.standing),
        "work": done_words(found.service.work, instrument),
        "declined": declined_words(found.declined, instrument),
        "asked": [
            {"key": one.key, "question": words(one.message), "reason": reasons[one.key].strip()}
            for one in asked
        ],
        "price": said.price,
        "coming_back": [(what, on.isoformat(), why) for what, on, why in said.coming_back],
    }


def _expected(standing: Standing) -> list[dict[str, Any]]:
    """Return every figure as it left: what was read of it, or what it is reckoned to be, and how well it is known."""
    return [
        {
            "group": group.name,
            "string": one.string,
            "unit": group.unit,
            "wanted": round(one.wanted, 4),
            "value": round(one.printed(after=True), 4),
            "uncertainty": round(one.after_spread, 4),
            "read": one.after_read is not None,
        }
        for group in standing.groups
        for one in group.judged(after=True)
    ]


def _marks(connection: Writing, visit: Visit) -> dict[str, Any]:
    """Return what changes whenever anything is written to the visit that its sheet says."""
    entries = visit_marks(connection, visit.id)[visit.id]
    return {"mark": [entries, visit.body, visit.version], "beside": beside_entries(connection, visit)}


def _stored(
    shop: Shop,
    visit: Visit,
    stamp: Stamp,
    leaving: Leaving,
    body: dict[str, Any],
    files: tuple[bytes, bytes],
    number: int,
) -> Closing:
    pdf_hash, html_hash = (put_blob(shop.folder, file, SHEET) for file in files)
    with shop.writing() as connection:
        now = hold_visit(connection, visit.id)
        if any(body[name] != value for name, value in _marks(connection, now).items()):
            raise EditedMeanwhileError(tr("this sheet"), now, {"state": HANDED_BACK}, now.changed_by)
        closing = add_record(
            connection, Closing, stamp, visit_id=visit.id, number=number, reason=visit.amending or "",
            signed_by=leaving.signed, body=json.dumps(body, ensure_ascii=False), pdf_hash=pdf_hash,
            html_hash=html_hash,
        )  # fmt: skip
        left = now.handed_back_at or leaving.at
        change_record(
            connection, now, stamp, state=HANDED_BACK, handed_back_at=left, moved_at=left, closed_at=stamp.at,
            amending=None,
        )  # fmt: skip
    return closing


def last_signature(shop: Shop) -> str:
    """Return who signed last in this shop; empty where nobody has."""
    with shop.reading() as connection:
        return signed_last(connection)


def gate_of(shop: Shop, visit: Visit) -> tuple[Asked, ...]:
    """Return what would be asked if the instrument went back now.

    Raises:
        ReadAgainError: readings that no instrument fits.
    """
    return asked_at_hand_back(visit, standings(shop, visit))
