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
from breakangle.web.form_data import TheTyped
from breakangle.web.forms.house_targets import house_targets_form
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
def keep(
    request: Request, shop: TheShop, stamp: TheStamp, visitor: TheVisitor, kind: str, typed: TheTyped
) -> Response:
    """Store one kind's targets."""
    set_house_targets(shop, stamp, kind, *house_targets_form(typed), visitor.view.own_unit)
    return to(request, "/shop/targets")
