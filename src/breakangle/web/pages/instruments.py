"""The instruments: the list, one instrument with its time line and what its neck does, and what was searched for."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from breakangle.desk.picture_charts import history_chart, points_of
from breakangle.desk.shop_find import find, instruments_page
from breakangle.desk.shop_instrument import instrument_told
from breakangle.web.asked import TheShop, TheVisitor
from breakangle.web.drawn import Wide, look_for
from breakangle.web.render import page

router = APIRouter(include_in_schema=False)


@router.get("/instruments")
def list_page(request: Request, shop: TheShop, at: int = 1) -> Response:
    """Show the instruments, a page at a time."""
    return page(request, "instruments.html", listed=instruments_page(shop, at))


@router.get("/search")
def search_page(request: Request, shop: TheShop, q: str = "") -> Response:
    """Show what was found all over the shop."""
    words = q.strip()[:200]
    return page(request, "search.html", words=words, found=find(shop, words) if words else ())


@router.get("/instruments/{key}")
def instrument_page(
    request: Request, shop: TheShop, visitor: TheVisitor, key: str, wide: Wide = None
) -> Response:
    """Show one instrument: what it is, whose, every visit on one time line, what its neck does."""
    told = instrument_told(shop, key)
    look = look_for(visitor, wide)
    points = points_of(tuple(reversed(told.visits)))
    chart = history_chart(points, name=told.instrument.name, look=look) if len(points) > 1 else None
    return page(request, "instrument.html", told=told, chart=chart)
