"""One photograph: captioned, marked with a finger, put on the owner's sheet, removed and brought back."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from breakangle.services.documents.hand_back.photograph_pairs import partner_of
from breakangle.services.documents.hand_back.sheet_place import SHOWN
from breakangle.services.documents.photograph_page import (
    photograph,
    photographs,
    remove_photograph,
    restore_photograph,
    write_photograph,
)
from breakangle.storage.records.records import InstrumentRecord
from breakangle.web.dependencies import TheShop, TheStamp, TheVisit, to
from breakangle.web.form_data import TheTyped
from breakangle.web.forms.photograph import photograph_form
from breakangle.web.render import page

router = APIRouter(include_in_schema=False)


@router.get("/visits/{number:int}/photographs/{key}")
def photograph_page(request: Request, shop: TheShop, visit: TheVisit, key: str) -> Response:
    """Show a photograph, large, with what is marked on it."""
    found, instrument = photograph(shop, visit, key), shop.get(InstrumentRecord, visit.instrument_id)
    fixed = visit.closed_at is not None and visit.amending is None
    others = [one.record for one in photographs(shop, visit)]
    return page(
        request, "photograph.html", visit=visit, instrument=instrument, one=found, shown=SHOWN, fixed=fixed,
        others=[one for one in others if one.id != key], partner=partner_of(found.record, others),
    )  # fmt: skip


@router.post("/visits/{number:int}/photographs/{key}")
def written(
    request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, key: str, typed: TheTyped
) -> Response:
    """Store caption, marks and place."""
    write_photograph(shop, visit, key, photograph_form(typed), stamp)
    return to(request, f"/visits/{visit.number}#photographs")


@router.post("/visits/{number:int}/photographs/{key}/remove")
def removed(request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, key: str) -> Response:
    """Remove it; the sheet offers to bring it back."""
    remove_photograph(shop, visit, key, stamp)
    return to(request, f"/visits/{visit.number}?removed={key}#photographs")


@router.post("/visits/{number:int}/photographs/{key}/restore")
def restored(request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, key: str) -> Response:
    """Bring it back."""
    restore_photograph(shop, visit, key, stamp)
    return to(request, f"/visits/{visit.number}#photographs")
