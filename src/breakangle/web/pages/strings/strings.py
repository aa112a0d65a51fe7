"""Strings: tension, feel and breaking margin of what is on; what another set or tuning would do here; putting it on."""

import secrets

from fastapi import APIRouter, Request
from starlette.responses import Response

from breakangle.reference.posts import posts
from breakangle.reference.strings import makes
from breakangle.reference.woods import wood, woods
from breakangle.services.climate.visit_air import CUTS, climate_today
from breakangle.services.history.learning import earlier_services
from breakangle.services.strings.request import asked_strings, put_on_asked, strings_asked, strings_unknown
from breakangle.services.strings.winding import wind_set
from breakangle.services.swap.comparison import swap
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.left_out import declined
from breakangle.web.dependencies import TheShop, TheStamp, TheVisit, TheVisitor, to
from breakangle.web.form_data import TheTyped
from breakangle.web.forms.climate import climate_form
from breakangle.web.forms.strings import strings_form
from breakangle.web.render import page

router = APIRouter(include_in_schema=False)


@router.get("/visits/{number}/strings")
def strings_page(
    request: Request, shop: TheShop, visit: TheVisit, visitor: TheVisitor, post: str = ""
) -> Response:
    """Show the strings that are on, as weighed; sizes that were looked for; how they wind; the form for others."""
    service, typed = service_of(shop, visit.id), dict(request.query_params)
    asked = strings_asked(shop, service, strings_form(typed), visitor.view.own_unit)
    kind = post if post in posts() else None
    return page(
        request, "strings.html", visit=visit, instrument=asked.instrument, asked=asked, found=asked.figures,
        winds=wind_set(service, kind), posts=posts(), post=post, makes=makes(), stock=asked.sets,
        typed=typed, key=secrets.token_hex(12),
    )  # fmt: skip


@router.get("/visits/{number}/strings/swap")
def swap_page(request: Request, shop: TheShop, visit: TheVisit, visitor: TheVisitor) -> Response:
    """Show what the typed strings and notes, or a pack, would do on this instrument; nothing is stored."""
    service, typed = service_of(shop, visit.id), dict(request.query_params)
    now = service.instrument_now()
    asked = asked_strings(shop, now, strings_form(typed), visitor.view.own_unit)
    told = swap(service, asked.strings, earlier=earlier_services(shop, visit), without=declined(shop, visit))
    part = "hx-request" in request.headers
    return page(
        request, "_swap.html" if part else "swap.html", visit=visit, instrument=now, swap=told, typed=typed,
        takes=asked.takes, stock=strings_unknown(shop), key=secrets.token_hex(12),
    )  # fmt: skip


@router.post("/visits/{number}/strings")
def keep_strings(
    request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, visitor: TheVisitor, typed: TheTyped
) -> Response:
    """Store that the typed strings, or a pack, are on now."""
    now = service_of(shop, visit.id).instrument_now()
    put_on_asked(
        shop, visit, now, strings_form(typed), stamp, visitor.view.own_unit, typed.get("key") or None
    )
    return to(request, f"/visits/{visit.number}/strings")


@router.get("/visits/{number}/climate")
def climate_part(request: Request, shop: TheShop, visit: TheVisit) -> Response:
    """Show what the air has done to this neck, or what another air would do."""
    told = climate_today(shop, visit, climate_form(request.query_params))
    part = "hx-request" in request.headers
    return page(
        request, "_climate.html" if part else "climate.html", visit=visit, air=told, cuts=CUTS,
        instrument=service_of(shop, visit.id).instrument_now(), woods=[wood(key) for key in woods()],
    )  # fmt: skip
