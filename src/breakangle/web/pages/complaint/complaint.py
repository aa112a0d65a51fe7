"""Complaint: what the owner hears or feels, the readings that decide it, and what they are told about it."""

from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from starlette.responses import Response

from breakangle.documents.sheets.complaints import complaint_words
from breakangle.model.errors import CorrectInputError, ReadAgainError
from breakangle.model.words.speech import tr
from breakangle.reference.messages import words
from breakangle.services.plans.agreed_height import disagreement, settle_by
from breakangle.services.readings.complaint_page import complaint_sheet
from breakangle.services.visits.complaints import (
    add_complaint,
    answer_complaint,
    change_complaint,
    complaints_in,
    seen_in,
)
from breakangle.services.visits.reading_places import Place
from breakangle.services.visits.typed_complaints import (
    CHECKS,
    OUTCOMES,
    WHATS,
    WHENS,
    answer_typed,
    complaint_typed,
)
from breakangle.services.visits.visits import instrument_of
from breakangle.storage.records.records import InstrumentRecord
from breakangle.web.dependencies import TheShop, TheStamp, TheVisit, TheVisitor, to
from breakangle.web.form_data import TheTyped
from breakangle.web.forms.complaint import answer_form, complaint_form
from breakangle.web.render import page

router = APIRouter(include_in_schema=False)
Seen = Annotated[str, Form()]


@router.get("/visits/{number:int}/complaint")
def complaint_page(request: Request, shop: TheShop, visit: TheVisit, visitor: TheVisitor) -> Response:
    """Show the complaints with the readings that decide them."""
    sheet = complaint_sheet(shop, visit, visitor.view)
    boxes, shown = [], set[Place]()
    for one in sheet.complaints:
        found = [sheet.boxes.box(place) for place in one.decided.places if place not in shown]
        shown |= set(one.decided.places)  # a box stands once on a page, where it is first asked for
        boxes.append([box for box in found if box is not None])
    values: dict[str, Any] = {"visit": visit, "sheet": sheet, "boxes": boxes, "said": words}
    values |= {"instrument": shop.get(InstrumentRecord, visit.instrument_id)}
    return page(
        request, "complaint.html", whats=WHATS, whens=WHENS, outcomes=OUTCOMES, checks=CHECKS, **values
    )


@router.post("/visits/{number:int}/complaint")
def added(request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, typed: TheTyped) -> Response:
    """Add a complaint."""
    instrument = instrument_of(shop.get(InstrumentRecord, visit.instrument_id))
    complaint = complaint_typed(complaint_form(typed), instrument)
    if complaint is None:
        raise CorrectInputError(
            tr("nothing says what it is"), tr("one of {whats}", whats=", ".join(WHATS)), tr("choose one")
        )
    add_complaint(shop, visit, complaint, stamp)
    return to(request, f"/visits/{visit.number}/complaint")


@router.post("/visits/{number:int}/complaint/drop")
def dropped(request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, seen: Seen) -> Response:
    """Take a complaint off."""
    change_complaint(shop, visit, seen_in(seen), None, stamp)
    return to(request, f"/visits/{visit.number}/complaint")


@router.post("/visits/{number:int}/complaint/answer")
def answered(request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, typed: TheTyped) -> Response:
    """Store what the owner is told about a complaint."""
    answer_complaint(shop, visit, seen_in(typed.get("seen", "")), answer_typed(answer_form(typed)), stamp)
    return to(request, f"/visits/{visit.number}/complaint")


@router.get("/visits/{number:int}/beside")
def beside_part(request: Request, shop: TheShop, visit: TheVisit) -> Response:
    """Show what stays beside the plan: the complaints, and where target, buzz and strength do not agree."""
    try:
        found = disagreement(shop, visit.id)
    except ReadAgainError:
        found = None  # the page itself says so
    complaints = [(complaint_words(one), one) for one in complaints_in(visit)]
    return page(request, "_beside.html", visit=visit, complaints=complaints, found=found, said=words)


@router.post("/visits/{number:int}/agree")
def agreed(
    request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, way: Annotated[str, Form()]
) -> Response:
    """Go one of the two ways in which target, buzz and strength agree."""
    settle_by(shop, visit, way, stamp)
    return to(request, f"/visits/{visit.number}/plan")
