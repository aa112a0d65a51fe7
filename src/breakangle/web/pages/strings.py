"""Strings: tension, feel and breaking margin of what is on; what another set or tuning would do here; putting it on."""

from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import Response

from breakangle.desk.shop_learning import earlier_services
from breakangle.desk.shop_readings import service_of
from breakangle.desk.strings import strings
from breakangle.desk.strings_typed import put_on, typed_strings
from breakangle.desk.swap import swap
from breakangle.desk.winding import wind_set
from breakangle.shop.records import Stock
from breakangle.tables.posts import posts
from breakangle.tables.strings import makes
from breakangle.web.asked import TheShop, TheStamp, TheVisit, to
from breakangle.web.render import page
from breakangle.web.visitor import visitor_of

router = APIRouter(include_in_schema=False)
EVERY = "every"


@dataclass(frozen=True)
class Typed:
    """The boxes of the swap form, as they were typed."""

    values: dict[str, str]
    own_unit: str

    @property
    def every(self) -> bool:
        """Return whether a whole new set goes on."""
        return bool(self.values.get(EVERY))


@router.get("/visits/{number}/strings")
def strings_page(request: Request, shop: TheShop, visit: TheVisit, post: str = "") -> Response:
    """Show the strings that are on, how they wind, and the form for others."""
    service = service_of(shop, visit.id)
    kind = post if post in posts() else None
    return page(
        request, "strings.html", visit=visit, instrument=service.instrument_now(), found=strings(service),
        winds=wind_set(service, kind), posts=posts(), post=post, makes=makes(), stock=shop.every(Stock),
    )  # fmt: skip


@router.get("/visits/{number}/strings/swap")
def swap_page(request: Request, shop: TheShop, visit: TheVisit) -> Response:
    """Show what the typed strings and notes would do on this instrument; nothing is stored."""
    service, typed = service_of(shop, visit.id), _typed(request, dict(request.query_params))
    now = service.instrument_now()
    fresh = typed_strings(now, typed.values, typed.own_unit, typed.every)
    told = swap(service, fresh, earlier=earlier_services(shop, visit))
    part = "hx-request" in request.headers
    return page(
        request, "_swap.html" if part else "swap.html", visit=visit, instrument=now, swap=told,
        typed=typed.values, stock=shop.every(Stock),
    )  # fmt: skip


@router.post("/visits/{number}/strings")
async def keep_strings(request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp) -> Response:
    """Store that the typed strings are on now."""
    async with request.form(max_fields=80, max_files=0) as form:
        typed = _typed(request, {name: str(value) for name, value in form.items()})
    now = service_of(shop, visit.id).instrument_now()
    fresh = typed_strings(now, typed.values, typed.own_unit, typed.every)
    put_on(shop, visit, fresh, stamp, typed.values.get("stock", ""))
    return to(request, f"/visits/{visit.number}/strings")


def _typed(request: Request, values: dict[str, str]) -> Typed:
    return Typed(values, "in" if visitor_of(request).view.units == "inch" else "mm")
