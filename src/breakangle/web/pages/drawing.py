"""The drawings of a visit: the side view, and what the board is like at every fret; parts of pages, or pages."""

from typing import Any, Literal

from fastapi import APIRouter, Request
from starlette.responses import Response

from breakangle.desk.pictures import buzz_map, clearance_map, elevation_of, intonation_map
from breakangle.desk.solved import Solved, solved_visit
from breakangle.report.drawings.look import Drawing, Look
from breakangle.shop.records import InstrumentRecord
from breakangle.web.asked import TheShop, TheVisit, TheVisitor
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
    return _shown(request, shop.get(InstrumentRecord, visit.instrument_id), visit, drawing)


@router.get("/visits/{number}/board/{map_of}")
def map_page(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    visitor: TheVisitor,
    map_of: Map,
    strength: Strength = "medium",
    wide: Wide = None,
) -> Response:
    """Show what the board is like at every fret."""
    solved, look = solved_visit(shop, visit.id), look_for(visitor, wide, NARROW)
    drawing = _map(solved, map_of, strength, look)
    return _shown(request, shop.get(InstrumentRecord, visit.instrument_id), visit, drawing)


def _map(solved: Solved, map_of: Map, strength: Strength, look: Look) -> Drawing:
    if map_of == "intonation":
        return intonation_map(solved.service, now=solved.estimate, look=look)
    if map_of == "clearance":
        return clearance_map(solved.service, now=solved.estimate, look=look)
    found = solved.buzz(strength)
    return buzz_map(solved.service, strength, now=solved.estimate, found=found, look=look)


def _shown(request: Request, instrument: InstrumentRecord, visit: object, drawing: Drawing) -> Response:
    part = "hx-request" in request.headers
    values: dict[str, Any] = {"visit": visit, "instrument": instrument, "drawing": drawing}
    return page(request, "_visit_drawn.html" if part else "visit_drawing.html", **values)
