"""Plan: the trips to make and why, what to leave alone, and where to stop; solved anew after every step and reading."""

import secrets
from dataclasses import replace
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from starlette.responses import Response

from breakangle.drawings.look import Drawing
from breakangle.model.errors import ReadAgainError
from breakangle.services.intake.corrected_instrument import said_as_told
from breakangle.services.plans.done import Done, step_given, steps_done, took_back
from breakangle.services.plans.plan_page import made, plan_sheet
from breakangle.services.plans.solved_visits import Solved, solved_visit
from breakangle.services.plans.trip_drawing import trip_drawing
from breakangle.services.readings.readings_page import reading_sheet
from breakangle.services.visit_sheets.latest import late_choices, stored_lately
from breakangle.services.visit_sheets.sheet import entries_told
from breakangle.services.visits.left_out import leave_out, take_back
from breakangle.services.workshop.prices import FOOT_KEY, setting
from breakangle.storage.records.records import InstrumentRecord, Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import EditedMeanwhileError
from breakangle.web.dependencies import TheShop, TheStamp, TheVisit, TheVisitor, to
from breakangle.web.drawn import look_for
from breakangle.web.form_data import TheTyped
from breakangle.web.page_cache.sent_key import sent_key
from breakangle.web.render import page
from breakangle.web.visitor import Visitor

router = APIRouter(include_in_schema=False)
Step = Annotated[str, Form()]
STEP, TICKED, AMOUNT = "step:", "done:", "amount:"
TRIP_WIDE_PX = 320  # a trip's drawing fits a phone, and keeps its text's size on a wide screen


@router.get("/visits/{number}/plan")
def plan_page(
    request: Request, shop: TheShop, visit: TheVisit, visitor: TheVisitor, part: str = ""
) -> Response:
    """Show the plan as it stands; with `part`, only what changes when a reading is taken."""
    values = _values(request, shop, visit, visitor)
    return page(request, "_plan.html" if part else "plan.html", part=bool(part), **values)


@router.post("/visits/{number}/plan/done")
def done(
    request: Request, shop: TheShop, visit: TheVisit, visitor: TheVisitor, stamp: TheStamp, typed: TheTyped
) -> Response:
    """Store the ticked steps as made, each by the amount planned or the one typed beside it."""
    lines = _lines(typed)
    count = typed.get("done_count", "")
    seen = int(count) if count.isascii() and count.isdigit() else 0
    try:
        steps_done(
            shop, visit, lines, stamp, done_count=seen, own_unit=visitor.view.own_unit,
            sent_key=typed.get("key", "")[:80] or None, before=typed.get("before") or typed.get("on") or None,
        )  # fmt: skip
    except EditedMeanwhileError as cause:
        return _clash(request, shop, visit, lines, cause)
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


@router.post("/visits/{number}/plan/as-told")
def as_told(
    request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, string: Annotated[str, Form()]
) -> Response:
    """Keep that a string's note and gauge are right, however it pulls; `all`: those of every string."""
    said_as_told(shop, visit, string, stamp)
    return to(request, f"/visits/{visit.number}/plan")


@router.post("/visits/{number}/plan/undo")
def undo_stored(
    request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, entry: Annotated[str, Form()]
) -> Response:
    """Take back a stored thing, or put back again what was taken back."""
    took_back(shop, visit, entry, stamp)
    return to(request, f"/visits/{visit.number}/plan")


@router.get("/visits/{number}/late")
def late_part(request: Request, shop: TheShop, visit: TheVisit, trip: int = 0) -> Response:
    """Show before what something may have been done that is entered late, as a part of a form."""
    late = late_choices(entries_told(shop, visit))
    return page(request, "_late.html", visit=visit, late=late, name=f"late-{trip}")


def _lines(typed: dict[str, str]) -> list[Done]:
    """Return the steps that were ticked, or that an amount was typed for, in their order."""
    found = []
    for name, text in typed.items():
        number = name.removeprefix(STEP)
        amount = typed.get(f"{AMOUNT}{number}", "")
        if number != name and (f"{TICKED}{number}" in typed or amount.strip()):
            found.append(Done(step_given(text), amount))
    return found


def _clash(
    request: Request, shop: Shop, visit: Visit, lines: list[Done], cause: EditedMeanwhileError
) -> Response:
    solved = solved_visit(shop, visit.id)
    instrument = solved.service.instrument_now()
    values: dict[str, Any] = {
        "visit": visit,
        "instrument": shop.get(InstrumentRecord, visit.instrument_id),
        "theirs": made(solved.service.work[-1], instrument),
        "yours": [(made(one.adjustment, instrument), one.amount) for one in lines],
        "who": cause.theirs.taken_by,
        "done_count": len(solved.service.work),
        "key": secrets.token_hex(12),
    }
    return page(request, "plan_clash.html", 409, **values)


def _values(request: Request, shop: Shop, visit: Visit, visitor: Visitor) -> dict[str, Any]:
    solved, drawings = None, {}
    try:
        solved = solved_visit(shop, visit.id)
        told, trouble = plan_sheet(solved), ""
        also = (*told.check, *told.asked_at, *told.again)
        drawings = _drawings(solved, visitor, len(solved.plan.steps) - len(told.steps))
    except ReadAgainError as cause:
        told, trouble, also = None, str(cause), ()
    sheet = reading_sheet(shop, visit, visitor.view, also, solved, only_also=True)
    asked = told.asked_at if told else ()
    return {
        "visit": visit,
        "instrument": shop.get(InstrumentRecord, visit.instrument_id),
        "told": told,
        "trouble": trouble,
        "drawings": drawings,
        "sheet": sheet,
        "boxes": [replace(one, again=one.reading is not None and one.place in asked) for one in sheet.boxes],
        "stored": stored_lately(shop, visit, sheet.instrument),
        "key": sent_key(request),
        "foot_key": setting(shop, FOOT_KEY),
        "drawing_query": "?plan=yes",
    }


def _drawings(solved: Solved, visitor: Visitor, left: int) -> dict[int, Drawing]:
    """Return the drawing of every trip that has one, by the trip's number; `left`: steps that are done already."""
    look, plan = look_for(visitor, TRIP_WIDE_PX), solved.plan
    found = {
        one.trip: trip_drawing(solved.service, solved.estimate, plan, one.trip, look, left)
        for one in plan.trips
    }
    return {trip: drawing for trip, drawing in found.items() if drawing is not None}
