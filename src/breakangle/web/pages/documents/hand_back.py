"""Hand back: what stands open is asked, the visit is closed with its sheet; later an amendment, with its reason."""

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from starlette.responses import Response

from breakangle.documents.renderers.page_file import FORMS
from breakangle.documents.sheets.complaints import COMPLAINT
from breakangle.model.errors import ReadAgainError
from breakangle.reference.messages import words
from breakangle.services.documents.hand_back.amend import leave_amendment, open_amendment
from breakangle.services.documents.hand_back.close import Closes, close_visit, gate_of, last_signature
from breakangle.services.documents.hand_back.frozen import closing_numbered, stored_sheet
from breakangle.services.documents.hand_back.gate import Asked, GateOpenError
from breakangle.services.documents.hand_back.photographs import choose_photographs
from breakangle.services.documents.hand_back.sheet_place import SHOWN
from breakangle.services.documents.sheets import sheet_name
from breakangle.services.procedures.at_visit import Listed, procedures, run_whole
from breakangle.services.procedures.runs import known_facts, runs
from breakangle.services.readings.complaint_page import complaint_sheet
from breakangle.services.visits.complaints import answer_complaint, complaints_in, seen_in
from breakangle.services.visits.typed_complaints import CHECKS, OUTCOMES, answer_typed
from breakangle.services.visits.visits import visit_numbered
from breakangle.storage.records.records import Attachment, InstrumentRecord, Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import Stamp
from breakangle.web.dependencies import TheShop, TheStamp, TheVisit, TheVisitor, now, to
from breakangle.web.form_data import TheTyped
from breakangle.web.forms.complaint import answer_form
from breakangle.web.pages.documents.paper import sheet_response
from breakangle.web.render import page
from breakangle.web.visitor import Visitor

router = APIRouter(include_in_schema=False)
REASON, PLACE, CAPTION = "reason:", "shown:", "caption:"
ANSWER, DID = "answer:", "did:"
HAND_BACK = "hand-back"  # the procedure that this page is the end of


@router.get("/visits/{number:int}/hand-back")
def hand_back_page(request: Request, shop: TheShop, visit: TheVisit, visitor: TheVisitor) -> Response:
    """Show what stands open, the photographs for the sheet, and who signs."""
    if visit.closed_at is not None:
        return to(request, f"/visits/{visit.number}#closed")
    return _page(request, shop, visit, visitor, {"signed_by": last_signature(shop)})


@router.post("/visits/{number:int}/hand-back")
def handed_back(
    request: Request, shop: TheShop, visit: TheVisit, visitor: TheVisitor, stamp: TheStamp, typed: TheTyped
) -> Response:
    """Hand it back and close the visit; what stands open is asked again beside what was written."""
    for name in [one.removeprefix(DID) for one in typed if one.startswith(DID)]:
        run_whole(shop, stamp, visit.id, name)
    visit = _answered(shop, visit, typed, stamp)
    choose_photographs(shop, visit, _chosen(typed), stamp)
    root = f"{request.url.scheme}://{request.url.netloc}{request.scope.get('root_path', '')}"
    reasons = {name.removeprefix(REASON): text for name, text in typed.items() if name.startswith(REASON)}
    given = Closes(
        reasons,
        typed.get("signed_by", ""),
        address=f"{root}/visits/{visit.number}",
        inch=visitor.view.units == "inch",
        left_on=typed.get("left_on", ""),
    )
    try:
        close_visit(shop, visit_numbered(shop, visit.number), stamp, given)
    except GateOpenError as cause:
        now = visit_numbered(shop, visit.number)
        return _page(request, shop, now, visitor, typed, cause.asked, 422)
    return to(request, f"/visits/{visit.number}#closed")


@router.post("/visits/{number:int}/amend")
def amended(
    request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, reason: Annotated[str, Form()] = ""
) -> Response:
    """Open a closed visit for an amendment."""
    open_amendment(shop, visit, reason, stamp)
    return to(request, f"/visits/{visit.number}")


@router.post("/visits/{number:int}/amend/leave")
def amendment_left(request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp) -> Response:
    """Close a visit again on which nothing was amended."""
    leave_amendment(shop, visit, stamp)
    return to(request, f"/visits/{visit.number}")


@router.get("/visits/{number:int}/closed/{closing:int}.{form}")
def closed_sheet(shop: TheShop, visit: TheVisit, closing: int, form: str) -> Response:
    """Send a sheet as it was kept when the visit was closed."""
    content = stored_sheet(shop, closing_numbered(shop, visit, closing), form)
    name = sheet_name(visit, f"hand-back-{closing}", form)
    return sheet_response(content, FORMS[form], name)


def _chosen(typed: Mapping[str, str]) -> dict[str, tuple[str, str]]:
    """Return where each photograph is shown, and its caption, by its name in the records."""
    return {
        name.removeprefix(PLACE): (shown, typed.get(f"{CAPTION}{name.removeprefix(PLACE)}", ""))
        for name, shown in typed.items()
        if name.startswith(PLACE)
    }


def _answered(shop: Shop, visit: Visit, typed: Mapping[str, str], stamp: Stamp) -> Visit:
    """Store what the owner is told about each complaint that was answered here, and return the visit."""
    for number in range(1, len(complaints_in(visit)) + 1):
        start = f"{ANSWER}{number}:"
        answer = answer_typed(answer_form(typed, start))
        if answer is not None:
            visit = answer_complaint(shop, visit, seen_in(typed.get(f"{start}seen", "")), answer, stamp)
    return visit


def _open_work(shop: Shop, visit: Visit) -> tuple[Listed, ...]:
    """Return the procedures that nobody has begun in this visit."""
    begun = {one.begun.procedure for one in runs(shop, visit.id, now())}
    listed = procedures(shop, known_facts(shop, visit.id))
    return tuple(one for one in listed if one.name not in begun and one.name != HAND_BACK)


def _page(
    request: Request,
    shop: Shop,
    visit: Visit,
    visitor: Visitor,
    typed: Mapping[str, str],
    missing: tuple[Asked, ...] = (),
    status: int = 200,
) -> Response:
    try:
        asked, trouble = gate_of(shop, visit), ""
    except ReadAgainError as cause:
        asked, trouble = (), str(cause)
    told = None
    if any(one.sort == COMPLAINT for one in asked):
        told = complaint_sheet(shop, visit, visitor.view)
    values: dict[str, Any] = {
        "visit": visit,
        "complaints": told.complaints if told else (),
        "done": told.done if told else "",
        "outcomes": OUTCOMES,
        "checks": CHECKS,
        "open_work": _open_work(shop, visit),
        "instrument": shop.get(InstrumentRecord, visit.instrument_id),
        "asked": asked,
        "missing": {one.key for one in missing},
        "trouble": trouble,
        "typed": typed,
        "said": words,
        "photographs": shop.every(Attachment, visit_id=visit.id, kind="photograph"),
        "shown": SHOWN,
    }
    return page(request, "hand_back.html", status, **values)
