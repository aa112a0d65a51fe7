"""How low this neck can go: at each strength of play, what holds it up, and what levelling would gain."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from breakangle.services.plans.lowest import how_low
from breakangle.services.visits.visits import instrument_of
from breakangle.storage.records.records import InstrumentRecord
from breakangle.web.dependencies import TheShop, TheVisit, TheVisitor
from breakangle.web.drawn import Wide, look_for
from breakangle.web.render import page

router = APIRouter(include_in_schema=False)


@router.get("/visits/{number}/lowest")
def lowest_page(
    request: Request, shop: TheShop, visit: TheVisit, visitor: TheVisitor, wide: Wide = None, whole: str = ""
) -> Response:
    """Show the page at once, and what takes a second when the page asks for it, or with `whole` from the start."""
    part = "hx-request" in request.headers
    found = how_low(shop, visit.id, look_for(visitor, wide)) if part or whole else None
    if part:
        return page(request, "_lowest.html", visit=visit, found=found)
    instrument = instrument_of(shop.get(InstrumentRecord, visit.instrument_id))
    return page(request, "lowest.html", visit=visit, instrument=instrument, found=found)
