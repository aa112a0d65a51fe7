"""The drawings of a visit: the side view, and what the board is like at every fret; parts of pages, or pages."""

from collections.abc import Sequence
from typing import Any, Literal, get_args

from fastapi import APIRouter, Request
from starlette.responses import Response

from breakangle.drawings.look import Drawing, Look
from breakangle.services.plans.solved_visits import Solved, solved_visit
from breakangle.services.service_files.buzz import judged_words
from breakangle.services.service_files.pictures import buzz_map, clearance_map, elevation_of, intonation_map
from breakangle.storage.records.records import InstrumentRecord, Visit
from breakangle.web.dependencies import TheShop, TheVisit, TheVisitor
from breakangle.web.drawn import Wide, look_for
from breakangle.web.render import page

router = APIRouter(include_in_schema=False)
NARROW = 460.0  # beside the boxes of a laptop, and the whole width of a phone
Strength = Literal["light", "medium", "heavy"]
Map = Literal["intonation", "clearance", "buzz"]


@router.get("/visits/{number}/drawing")
def drawing_page(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    visitor: TheVisitor,
    string: int | None = None,
    plan: Literal["yes", "no"] = "no",
    wide: Wide = None,
) -> Response:
    """Show the side view, with the plan's arrows where they are asked for."""
    solved, look = solved_visit(shop, visit.id), look_for(visitor, wide, NARROW)
    planned = solved.plan if plan == "yes" else None
    drawing = elevation_of(solved.service, string, planned, now=solved.estimate, look=look)
    numbers = [one.string for one in solved.service.instrument_now().in_order()]
    choices = [
        (f"?plan={plan}{f'&string={one}' if one else ''}", one or "") for one in [None, *reversed(numbers)]
    ]
    instrument = shop.get(InstrumentRecord, visit.instrument_id)
    return _shown(request, instrument, visit, drawing, choices, string or "", "drawing")


@router.get("/visits/{number}/board/{map_of}")
def map_page(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    visitor: TheVisitor,
    map_of: Map,
    strength: Strength | None = None,
    wide: Wide = None,
) -> Response:
    """Show what the board is like at every fret."""
    solved, look = solved_visit(shop, visit.id), look_for(visitor, wide, NARROW)
    strength = strength or solved.targets.strength
    drawing = _map(solved, map_of, strength, look)
    choices = [(f"?strength={one}", one) for one in get_args(Strength)] if map_of == "buzz" else []
    instrument = shop.get(InstrumentRecord, visit.instrument_id)
    judged = judged_words(solved.judgement) if map_of == "buzz" else ()
    return _shown(request, instrument, visit, drawing, choices, strength, f"board/{map_of}", judged)


def _map(solved: Solved, map_of: Map, strength: Strength, look: Look) -> Drawing:
    if map_of == "intonation":
        return intonation_map(solved.service, now=solved.estimate, look=look)
    if map_of == "clearance":
        return clearance_map(solved.service, now=solved.estimate, look=look)
    found = solved.buzz(strength)
    return buzz_map(solved.service, strength, now=solved.estimate, found=found, look=look)


def _shown(
    request: Request,
    instrument: InstrumentRecord,
    visit: Visit,
    drawing: Drawing,
    choices: Sequence[tuple[str, str | int]],
    chosen: str | int,
    place: str,
    judged: Sequence[str] = (),
) -> Response:
    """Return the drawing with what else there is to choose, as a part of a page or as a page."""
    part = "hx-request" in request.headers
    values: dict[str, Any] = {
        "visit": visit,
        "instrument": instrument,
        "drawing": drawing,
        "choices": choices,
        "chosen": chosen,
        "drawn_at": place,
        "judged": judged,
    }
    return page(request, "_visit_drawn.html" if part else "visit_drawing.html", **values)
