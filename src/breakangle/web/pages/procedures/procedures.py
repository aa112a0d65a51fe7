"""The procedures: ours and the shop's own, each to be read, typed over as text, added or dropped."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from starlette.responses import Response

from breakangle.services.procedures.at_visit import drop_procedure, procedures
from breakangle.services.procedures.typed_procedures import (
    ProcedureText,
    keep_procedure_text,
    new_procedure_text,
    procedure_text_of,
)
from breakangle.web.dependencies import TheShop, TheStamp, to
from breakangle.web.render import page

router = APIRouter(include_in_schema=False)
Text = Annotated[str, Form()]
Version = Annotated[int, Form(ge=0)]


@router.get("/shop/procedures")
def procedures_page(request: Request, shop: TheShop) -> Response:
    """Show every procedure in the order of work, and whose it is."""
    return page(request, "shop_procedures.html", listed=procedures(shop))


@router.get("/shop/new-procedure")
def new_page(request: Request) -> Response:
    """Show the form for a new procedure, with a short one in it."""
    return page(request, "shop_procedure.html", of=new_procedure_text())


@router.post("/shop/new-procedure")
def add(request: Request, shop: TheShop, stamp: TheStamp, text: Text) -> Response:
    """Keep a new procedure, or show what is wrong with it."""
    return _kept(request, keep_procedure_text(shop, stamp, text, "", 0))


@router.get("/shop/procedures/{name}")
def procedure_page(request: Request, shop: TheShop, name: str) -> Response:
    """Show one procedure as it is read, and its text to be typed over."""
    return page(request, "shop_procedure.html", of=procedure_text_of(shop, name))


@router.post("/shop/procedures/{name}")
def keep(
    request: Request, shop: TheShop, stamp: TheStamp, name: str, text: Text, seen: Version = 0
) -> Response:
    """Keep the typed text as the shop's own, or show what is wrong with it."""
    return _kept(request, keep_procedure_text(shop, stamp, text, name, seen))


@router.post("/shop/procedures/{name}/drop")
def drop(request: Request, shop: TheShop, stamp: TheStamp, name: str) -> Response:
    """Drop the shop's own; where it was an edition of ours, ours stands again."""
    drop_procedure(shop, stamp, name)
    return to(request, "/shop/procedures")


def _kept(request: Request, made: ProcedureText) -> Response:
    if made.problems or made.theirs:
        return page(request, "shop_procedure.html", 409 if made.theirs else 422, of=made)
    return to(request, f"/shop/procedures/{made.name}")
