"""Take in: an instrument that has been here, a new one from its family's usual sizes, or a service file."""

import secrets
from typing import Annotated, Any

from fastapi import APIRouter, File, Request, UploadFile
from starlette.responses import Response

from breakangle.desk.instrument_typed import usual_typed
from breakangle.desk.shop_service_files import bring_in
from breakangle.desk.take_in import known_by, known_instrument, owners_called, take_in_again, take_in_new
from breakangle.model.errors import CorrectInputError
from breakangle.shop.errors import NoSuchRecordError
from breakangle.shop.store import Shop
from breakangle.tables.families import HANDS, families
from breakangle.tables.posts import posts
from breakangle.tables.strings import makes, wraps
from breakangle.web.asked import TheShop, TheStamp, TheVisitor, to
from breakangle.web.render import page
from breakangle.web.typed import TheTyped

router = APIRouter(include_in_schema=False)


@router.get("/visits/new")
def take_in_page(
    request: Request, shop: TheShop, instrument: str = "", kind: str = "", owner_id: str = ""
) -> Response:
    """Ask which instrument comes in; show the few fields of one that is known, or the sizes of a new one."""
    if instrument:
        return _again(request, shop, {"instrument": instrument})
    if kind:
        return _new(request, {"kind": kind, "owner_id": owner_id})
    return page(request, "take_in.html", families=families())


@router.get("/visits/new/found")
def found_part(request: Request, shop: TheShop, q: str = "") -> Response:
    """Show the instruments found while somebody types."""
    part = "hx-request" in request.headers
    found = known_by(shop, q[:200])
    if len(found) == 1 and not part:
        return to(request, f"/visits/new?instrument={found[0].instrument.id}")
    template = "_take_in_found.html" if part else "take_in.html"
    return page(request, template, found=found, words=q.strip(), families=families())


@router.get("/visits/new/owners")
def owners_part(request: Request, shop: TheShop, owner: str = "") -> Response:
    """Show the owners found while somebody types a name."""
    return page(request, "_take_in_owners.html", owners=owners_called(shop, owner[:200]))


@router.post("/visits/new")
def take_in(
    request: Request, shop: TheShop, visitor: TheVisitor, stamp: TheStamp, typed: TheTyped
) -> Response:
    """Take the instrument in, and go to its sheet; what was wrong is said beside what was typed."""
    key = typed.get("key") or None
    try:
        if typed.get("instrument"):
            visit = take_in_again(shop, stamp, typed["instrument"], typed, key)
        else:
            visit = take_in_new(shop, stamp, typed, visitor.view.own_unit, key)
    except NoSuchRecordError:
        raise
    except CorrectInputError as cause:
        if typed.get("instrument"):
            return _again(request, shop, typed, cause)
        if typed.get("kind") not in families():
            raise
        return _new(request, typed, cause)
    return to(request, f"/visits/{visit.number}")


@router.post("/visits/new/import")
def bring_file(
    request: Request, shop: TheShop, stamp: TheStamp, file: Annotated[UploadFile, File()]
) -> Response:
    """Take in what a service file holds."""
    brought = bring_in(shop, file.file.read(), file.filename or "the file", stamp)
    return to(request, f"/visits/{brought.visit.number}")


def _again(
    request: Request, shop: Shop, typed: dict[str, str], error: CorrectInputError | None = None
) -> Response:
    values: dict[str, Any] = {
        "known": known_instrument(shop, typed["instrument"]),
        "typed": typed,
        "hands": HANDS,
        "key": typed.get("key") or secrets.token_hex(12),
        "error": error,
    }
    return page(request, "take_in_again.html", 422 if error else 200, **values)


def _new(request: Request, typed: dict[str, str], error: CorrectInputError | None = None) -> Response:
    values: dict[str, Any] = {
        "usual": usual_typed(typed["kind"]),
        "typed": typed,
        "hands": HANDS,
        "makes": makes(),
        "wraps": wraps(),
        "posts": posts(),
        "key": typed.get("key") or secrets.token_hex(12),
        "error": error,
    }
    return page(request, "take_in_new.html", 422 if error else 200, **values)
