"""The shop's house targets: for each kind of instrument the hand, and figures of its own."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from breakangle.services.workshop.house_targets import (
    FIGURES,
    HANDS,
    every_house_target,
    house_targets,
    set_house_targets,
)
from breakangle.web.dependencies import TheShop, TheStamp, TheVisitor, to
from breakangle.web.render import page

router = APIRouter(include_in_schema=False)


@router.get("/shop/targets")
def targets_page(request: Request, shop: TheShop) -> Response:
    """Show what each kind of instrument is set up to."""
    return page(request, "shop_targets.html", every=every_house_target(shop), figures=FIGURES)


@router.get("/shop/targets/{kind}")
def kind_page(request: Request, shop: TheShop, kind: str) -> Response:
    """Show one kind's targets, to be typed over."""
    found = house_targets(shop, kind)
    return page(request, "shop_target.html", found=found, figures=FIGURES, hands=HANDS)


@router.post("/shop/targets/{kind}")
async def keep(request: Request, shop: TheShop, stamp: TheStamp, visitor: TheVisitor, kind: str) -> Response:
    """Keep one kind's targets."""
    async with request.form(max_fields=20, max_files=0) as form:
        typed = {name: str(value) for name, value in form.items()}
    own_unit = "in" if visitor.view.units == "inch" else "mm"
    set_house_targets(shop, stamp, kind, typed.get("hand", ""), typed, own_unit)
    return to(request, "/shop/targets")
