"""Plan: what to do next and why, what to leave alone, and where to stop; solved anew after every step and reading."""

import secrets
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from starlette.responses import Response

from breakangle.desk.plan_done import last_work, step_done, step_given, undo_last
from breakangle.desk.plan_left_out import leave_out, take_back
from breakangle.desk.plan_sheet import made, plan_sheet
from breakangle.desk.reading_sheet import reading_sheet
from breakangle.desk.solved import solved_visit
from breakangle.model.errors import ReadAgainError
from breakangle.shop.errors import EditedMeanwhileError
from breakangle.shop.records import InstrumentRecord, Visit
from breakangle.shop.store import Shop
from breakangle.web.asked import TheShop, TheStamp, TheVisit, TheVisitor, to
from breakangle.web.render import page
from breakangle.web.visitor import Visitor

router = APIRouter(include_in_schema=False)
Step = Annotated[str, Form()]


@router.get("/visits/{number}/plan")
def plan_page(
    request: Request, shop: TheShop, visit: TheVisit, visitor: TheVisitor, part: str = ""
) -> Response:
    """Show the plan as it stands; with `part`, only what changes when a reading is taken."""
    values = _values(shop, visit, visitor)
    return page(request, "_plan.html" if part else "plan.html", **values)


@router.post("/visits/{number}/plan/done")
def done(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    visitor: TheVisitor,
    stamp: TheStamp,
    step: Step,
    done_count: Annotated[int, Form(ge=0)],
    key: Annotated[str, Form(min_length=1, max_length=80)],
    amount: Annotated[str, Form()] = "",
) -> Response:
    """Store a step as made, by the amount planned or another."""
    given, unit = step_given(step), visitor.view.own_unit
    try:
        step_done(
            shop, visit, given, stamp, done_count=done_count, amount=amount, own_unit=unit, sent_key=key
        )
    except EditedMeanwhileError as cause:
        return _clash(request, shop, visit, cause)
    return to(request, f"/visits/{visit.number}/plan")


@router.post("/visits/{number}/plan/skip")
def skip(request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, step: Step) -> Response:
    """Leave an adjuster out of the plan."""
    leave_out(shop, visit, step_given(step), stamp)
    return to(request, f"/visits/{visit.number}/plan")


@router.post("/visits/{number}/plan/again")
def again(request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, step: Step) -> Response:
    """Let the plan use what was left out."""
    take_back(shop, visit, step_given(step), stamp)
    return to(request, f"/visits/{visit.number}/plan")


@router.post("/visits/{number}/plan/undo")
def undo_step(
    request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, entry: Annotated[str, Form()]
) -> Response:
    """Take back the last of the work."""
    undo_last(shop, visit, entry, stamp)
    return to(request, f"/visits/{visit.number}/plan")


def _clash(request: Request, shop: Shop, visit: Visit, cause: EditedMeanwhileError) -> Response:
    solved = solved_visit(shop, visit.id)
    instrument = solved.service.instrument_now()
    values: dict[str, Any] = {
        "visit": visit,
        "instrument": shop.get(InstrumentRecord, visit.instrument_id),
        "theirs": made(solved.service.work[-1], instrument),
        "yours": made(cause.yours, instrument),
        "who": cause.theirs.taken_by,
        "done_count": len(solved.service.work),
        "key": secrets.token_hex(12),
    }
    return page(request, "plan_clash.html", 409, **values)


def _values(shop: Shop, visit: Visit, visitor: Visitor) -> dict[str, Any]:
    solved = None
    try:
        solved = solved_visit(shop, visit.id)
        told, trouble = plan_sheet(solved), ""
        also = (*told.check, *told.again)
    except ReadAgainError as cause:
        told, trouble, also = None, str(cause), ()
    sheet = reading_sheet(shop, visit, visitor.view, also, solved)
    return {
        "visit": visit,
        "instrument": shop.get(InstrumentRecord, visit.instrument_id),
        "told": told,
        "trouble": trouble,
        "sheet": sheet,
        "boxes": [box for box in map(sheet.box, dict.fromkeys(also)) if box is not None],
        "last": last_work(shop, visit),
        "key": secrets.token_hex(12),
        "drawing_query": "?plan=yes",
    }
