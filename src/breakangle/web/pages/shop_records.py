"""The shop's lists that are kept by hand: prices, stock, gauges, owners; a form a row, one form to add."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from breakangle.desk.shop_edit import edit
from breakangle.desk.shop_kept import ADDED, add_kept, drop_kept, kept
from breakangle.desk.shop_shelf import to_order
from breakangle.desk.string_stock import strings_on_shelf
from breakangle.web.asked import TheShop, TheStamp, to
from breakangle.web.render import page

router = APIRouter(include_in_schema=False)


@router.get("/shop/lists/{kind}")
def records_page(request: Request, shop: TheShop, kind: str, low: str = "") -> Response:
    """Show a list, each row to be edited where it stands; of the shelf, if wished, only what runs low."""
    shown = kept(shop, kind) if kind != "stock" or not low else to_order(shop)
    on_shelf = {one.record.id: one for one in strings_on_shelf(shop)} if kind == "stock" else {}
    return page(
        request, "shop_records.html", kind=kind, fields=ADDED.get(kind, ()), rows=shown, on_shelf=on_shelf,
        low=kind == "stock" and bool(low),
    )  # fmt: skip


@router.post("/shop/lists/{kind}")
async def add_row(request: Request, shop: TheShop, stamp: TheStamp, kind: str) -> Response:
    """Add a row."""
    async with request.form(max_fields=20, max_files=0) as form:
        add_kept(shop, stamp, kind, {name: str(value) for name, value in form.items()})
    return to(request, f"/shop/lists/{kind}")


@router.post("/shop/lists/{kind}/{key}")
async def change_row(request: Request, shop: TheShop, stamp: TheStamp, kind: str, key: str) -> Response:
    """Store a row as it was typed over; or delete it: it can be restored for 30 days."""
    async with request.form(max_fields=20, max_files=0) as form:
        typed = {name: str(value) for name, value in form.items()}
    seen = typed.pop("seen", "")
    if typed.pop("drop", ""):
        drop_kept(shop, stamp, kind, key)
    else:
        edit(shop, kind, key, typed, stamp, int(seen) if seen.isdecimal() else None)
    return to(request, f"/shop/lists/{kind}")
