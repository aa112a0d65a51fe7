"""Readings: a box a place, what each should read, and every one stored when it is typed."""

from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from starlette.responses import RedirectResponse, Response

from breakangle.model.errors import BreakangleError, BusyError, CorrectInputError
from breakangle.model.typed_number import whole_within
from breakangle.model.words.speech import tr
from breakangle.planning.kinds.registry import reading_kinds
from breakangle.services.plans.done import took_back
from breakangle.services.readings.readings_page import asked_next, reading_sheet
from breakangle.services.readings.typed_readings import (
    TypedReading,
    keep_late,
    keep_typed,
    reading_in,
    taken_away,
)
from breakangle.services.readings.ways import WAYS
from breakangle.services.visit_sheets.sheet import entry_told
from breakangle.services.visits.reading_places import Place, place_at, place_keyed
from breakangle.services.visits.unit_answers import answer_every, answer_unit, choices_of, open_units
from breakangle.storage.records.records import Gauge, InstrumentRecord, Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import EditedMeanwhileError
from breakangle.storage.schema.stamp import Stamp
from breakangle.web.dependencies import TheShop, TheStamp, TheVisit, TheVisitor, to
from breakangle.web.form_data import TheTyped
from breakangle.web.render import page
from breakangle.web.visitor import VIEW_COOKIE, Visitor

router = APIRouter(include_in_schema=False)
A_YEAR_S = 365 * 86400
MOST_PLACE = 999
BOX, SEEN, WAS, AGAIN, EVERY = "box:", "seen:", "was:", "again:", "every"
Troubles = dict[str, tuple[str, BreakangleError]]


@router.get("/visits/{number}/readings")
def readings_page(request: Request, shop: TheShop, visit: TheVisit, visitor: TheVisitor) -> Response:
    """Show the boxes of a visit, in this bench's own ways."""
    return _page(request, shop, visit, visitor, {})


@router.get("/visits/{number}/readings/asked")
def asked_page(request: Request, shop: TheShop, visit: TheVisit) -> Response:
    """Answer what is to be read next, once the plan is there: what is stored does not wait for it.

    Where too many wait the page asks again by itself: nobody asked for it, so nobody is told of it.
    """
    try:
        return page(request, "_reading_asked.html", sheet=asked_next(shop, visit), visit=visit)
    except BusyError as busy:
        later = {"trouble": "", "asked": None, "plan_later": True}
        return page(request, "_reading_asked.html", sheet=later, visit=visit, again_s=busy.retry_after_s)


@router.post("/visits/{number}/readings")
def keep_all(
    request: Request, shop: TheShop, visit: TheVisit, visitor: TheVisitor, stamp: TheStamp, typed: TheTyped
) -> Response:
    """Store every box that was changed; what was not understood stays on the page as it was typed."""
    troubles: Troubles = {}
    for name, text in typed.items():
        key = name.removeprefix(BOX)
        if name == key or text == typed.get(f"{WAS}{key}", ""):
            continue
        try:
            seen, again = typed.get(f"{SEEN}{key}", ""), f"{AGAIN}{key}" in typed
            _keep(shop, visit, visitor, stamp, key, text, seen, None, again)
        except (CorrectInputError, EditedMeanwhileError) as cause:
            troubles[key] = text, cause
    if troubles:
        return _page(request, shop, visit, visitor, troubles, 422)
    return to(request, f"/visits/{visit.number}/readings")


@router.post("/visits/{number}/readings/one")
def keep_one(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    visitor: TheVisitor,
    stamp: TheStamp,
    box: Annotated[str, Form()],
    text: Annotated[str, Form()] = "",
    seen: Annotated[str, Form()] = "",
    key: Annotated[str, Form()] = "",
    again: Annotated[str, Form()] = "",
) -> Response:
    """Store one box and answer what was understood, what was expected, and what the others should read now."""
    try:
        told = _keep(shop, visit, visitor, stamp, box, text, seen, key or None, bool(again))
    except EditedMeanwhileError as cause:
        place = place_keyed(box)
        theirs = reading_in(cause.theirs, place)
        return page(
            request, "_reading_clash.html", 409, place=place, theirs=theirs, entry=cause.theirs, text=text
        )
    except CorrectInputError as cause:
        return page(request, "_reading_refused.html", 422, error=cause)
    sheet = reading_sheet(shop, visit, visitor.view, [told.place], stored=True)
    choices = choices_of(told.reading)
    undo_entry = told.entry.id if told.entry else taken_away(shop, visit, told.place)
    answer = page(
        request,
        "_reading_told.html",
        told=told,
        sheet=sheet,
        visit=visit,
        choices=choices,
        undo_entry=undo_entry,
    )
    answer.headers["x-entry"] = told.entry.id if told.entry else ""
    return answer


@router.post("/visits/{number}/readings/undo")
def undo_one(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    visitor: TheVisitor,
    stamp: TheStamp,
    entry: Annotated[str, Form()],
) -> Response:
    """Take back what was stored in a box, or put it back again, and answer what stands there now."""
    made = took_back(shop, visit, entry, stamp)
    told = entry_told(shop, visit, made.id)
    place = told.place or (told.instead_of.place if told.instead_of else None)
    sheet = reading_sheet(shop, visit, visitor.view, [place] if place else [], stored=True)
    answer = page(request, "_reading_undone.html", told=told, place=place, sheet=sheet, visit=visit)
    shown = sheet.box(place) if place else None
    answer.headers["x-entry"] = shown.entry.id if shown and shown.entry else ""
    return answer


@router.post("/visits/{number}/readings/other")
def keep_other(
    request: Request, shop: TheShop, visit: TheVisit, visitor: TheVisitor, stamp: TheStamp, typed: TheTyped
) -> Response:
    """Store a reading of any kind at any place, and, entered late, before something that was stored since."""
    harmonic = _whole(typed, "harmonic")
    held = tuple(sorted(_number(one, "held") for one in typed.get("held", "").replace(",", " ").split()))
    string, fret = _number(typed.get("string", ""), "string"), _number(typed.get("fret", ""), "fret")
    place = place_at(typed.get("quantity", ""), string, fret, held, harmonic)
    before = typed.get("before") or typed.get("on", "")
    if before:
        own, gauge = visitor.view.own_unit, _gauge(shop, visitor, place)
        keep_late(shop, visit, place, typed.get("text", ""), stamp, before, own_unit=own, gauge=gauge)
        return to(request, f"/visits/{visit.number}/readings")
    sheet = reading_sheet(shop, visit, visitor.view, [])
    there = sheet.box(place)
    seen = there.entry.id if there and there.entry else ""
    _keep(shop, visit, visitor, stamp, place.key, typed.get("text", ""), seen, None)
    return to(request, f"/visits/{visit.number}/readings#box-{place.key}")


@router.post("/visits/{number}/readings/unit")
def unit_told(
    request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, answer: Annotated[str, Form()]
) -> Response:
    """Store in which unit an open figure is."""
    key, _, told = answer.partition("|")
    unit, _, entry = told.partition("|")
    if key == EVERY:
        answer_every(shop, visit, unit, stamp)
        return to(request, f"/visits/{visit.number}/readings")
    place = place_keyed(key)
    answer_unit(shop, visit, entry, unit, stamp)
    return to(request, f"/visits/{visit.number}/readings#box-{place.key}")


@router.post("/visits/{number}/readings/ways")
def choose_ways(request: Request, visit: TheVisit, visitor: TheVisitor, typed: TheTyped) -> Response:
    """Remember in this browser how this bench takes its readings."""
    answer: RedirectResponse = to(request, f"/visits/{visit.number}/readings")
    chosen = visitor.view.changed(**typed).to_cookie()
    answer.set_cookie(VIEW_COOKIE, chosen, max_age=A_YEAR_S, samesite="lax", httponly=True)
    return answer


def _page(
    request: Request, shop: Shop, visit: Visit, visitor: Visitor, troubles: Troubles, status: int = 200
) -> Response:
    also = [place_keyed(key) for key in troubles]
    values: dict[str, Any] = {
        "visit": visit,
        "instrument": shop.get(InstrumentRecord, visit.instrument_id),
        "sheet": reading_sheet(shop, visit, visitor.view, also),
        "gauges": [one for one in shop.every(Gauge) if one.quantity in reading_kinds()],
        "kinds": reading_kinds(),
        "troubles": troubles,
        "ways": WAYS,
    }
    values["open_units"] = open_units(one.reading for one in values["sheet"].boxes)
    return page(request, "readings.html", status, **values)


def _keep(
    shop: Shop,
    visit: Visit,
    visitor: Visitor,
    stamp: Stamp,
    box: str,
    text: str,
    seen: str,
    key: str | None,
    again: bool = False,
) -> TypedReading:
    place, unit = place_keyed(box), visitor.view.own_unit
    gauge = _gauge(shop, visitor, place)
    return keep_typed(
        shop, visit, place, text, stamp, seen=seen, own_unit=unit, gauge=gauge, key=key, again=again
    )


def _gauge(shop: Shop, visitor: Visitor, place: Place) -> Gauge | None:
    """Return the gauge that this bench reads with, if it reads what is read at `place`."""
    chosen = (one for one in shop.every(Gauge) if one.id == visitor.view.gauge)
    return next((one for one in chosen if one.quantity == place.quantity), None)


def _whole(typed: dict[str, str], name: str) -> int | None:
    text = typed.get(name, "").strip()
    return _number(text, name) if text else None


def _number(text: str, name: str) -> int:
    number = whole_within(text, 0, MOST_PLACE)
    if number is None:
        raise CorrectInputError(
            tr('{name} is "{text}"', name=name, text=text[:20]), tr("a whole number"), tr("such as 6")
        )
    return number
