"""The shop's lists that are kept by hand: prices, stock, gauges, owners; a form a row, one form to add.

What is refused is shown where it was typed, as it was typed; what was deleted is brought back from the same page.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from starlette.responses import Response

from breakangle.model.errors import CorrectInputError
from breakangle.model.measure import INCH_MM, parse_length
from breakangle.model.typed_number import plain_digits
from breakangle.planning.kinds.registry import reading_kinds
from breakangle.services.records.edit import edit
from breakangle.services.records.erase import erase_person, erased_words
from breakangle.services.records.lists import ADDED, add_kept, bring_back_kept, drop_kept, dropped, kept
from breakangle.services.strings.shelf import to_order
from breakangle.services.strings.stock import strings_on_shelf
from breakangle.services.typed_values.amounts import decimals_of
from breakangle.services.workshop.gauges import gauge_kinds
from breakangle.services.workshop.prices import currency_digits
from breakangle.storage.records.records import Gauge
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import EditedMeanwhileError, NoSuchRecordError
from breakangle.web.dependencies import TheShop, TheStamp, TheVisitor, now, to
from breakangle.web.render import page
from breakangle.web.visitor import Visitor

SHOWN_IN = 0.0001  # the last place of a gauge's ± as it is shown in inches
router = APIRouter(include_in_schema=False)


@dataclass(frozen=True)
class Refused:
    """What was not stored: which row, the sentence, what was typed into it; `theirs` is what stands there now."""

    key: str
    cause: Any
    typed: Mapping[str, str] = field(default_factory=dict)
    theirs: Any = None


@router.get("/shop/lists/{kind}")
def records_page(request: Request, shop: TheShop, kind: str, low: str = "") -> Response:
    """Show a list, each row to be edited where it stands; of the shelf, if wished, only what runs low."""
    return _listed(request, shop, kind, low=kind == "stock" and bool(low))


@router.post("/shop/lists/{kind}")
async def add_row(
    request: Request, shop: TheShop, visitor: TheVisitor, stamp: TheStamp, kind: str
) -> Response:
    """Add a row."""
    typed = await _typed(request)
    try:
        add_kept(shop, stamp, kind, _in_mm(typed, visitor) if kind == "gauge" else typed)
    except CorrectInputError as cause:
        return _listed(request, shop, kind, Refused("new", cause, typed), status=422)
    return to(request, f"/shop/lists/{kind}")


@router.post("/shop/lists/{kind}/{key}")
async def change_row(
    request: Request, shop: TheShop, visitor: TheVisitor, stamp: TheStamp, kind: str, key: str
) -> Response:
    """Store a row as it was typed over; or delete it: it can be brought back for 30 days."""
    typed = await _typed(request)
    seen, drop = typed.pop("seen", ""), typed.pop("drop", "")
    version = int(seen) if seen.isdecimal() and len(seen) < 10 else None
    try:
        if drop:
            drop_kept(shop, stamp, kind, key, version)
        else:
            given = _in_mm(typed, visitor, shop.get(Gauge, key).spread) if kind == "gauge" else typed
            edit(shop, kind, key, given, stamp, version)
    except EditedMeanwhileError as cause:
        # Who only wanted to delete sees what stands there now; who typed keeps it, and sees what stands there.
        refused = Refused(key, cause) if drop else Refused(key, cause, typed, cause.theirs)
        return _listed(request, shop, kind, refused, status=409)
    except NoSuchRecordError as cause:
        return _listed(request, shop, kind, Refused("new", cause, {} if drop else typed), status=404)
    except CorrectInputError as cause:
        return _listed(request, shop, kind, Refused(key, cause, typed), status=422)
    return to(request, f"/shop/lists/{kind}")


@router.get("/shop/lists/{kind}/{key}")
def row_page(request: Request, kind: str, key: str) -> Response:
    """Show the list that a row is in: who changes the view where a row was refused comes back by its address."""
    del key
    return to(request, f"/shop/lists/{kind}")


@router.post("/shop/lists/{kind}/{key}/back")
def bring_row_back(request: Request, shop: TheShop, stamp: TheStamp, kind: str, key: str) -> Response:
    """Bring back a row that was deleted."""
    bring_back_kept(shop, stamp, kind, key)
    return to(request, f"/shop/lists/{kind}")


@router.post("/shop/lists/owner/{key}/erase")
def erase(
    request: Request, shop: TheShop, stamp: TheStamp, key: str, sure: Annotated[str, Form()] = ""
) -> Response:
    """Erase a person for good, and say what was kept."""
    done = erase_person(shop, key, stamp, sure == "yes")
    return page(request, "shop_erased.html", lines=erased_words(done))


async def _typed(request: Request) -> dict[str, str]:
    async with request.form(max_fields=20, max_files=0) as form:
        return {name: str(value) for name, value in form.items()}


def _in_mm(typed: dict[str, str], visitor: Visitor, own_mm: float | None = None) -> dict[str, str]:
    """Return what was typed of a gauge with its ± in mm, where it is one of a length and the person reads inches.

    What stands as it is shown stays what it is: `own_mm`.

    Raises:
        CorrectInputError: not a length.
    """
    kind, text = reading_kinds().get(typed.get("quantity", "")), typed.get("spread", "").strip()
    if visitor.view.own_unit != "in" or kind is None or kind.unit != "mm" or not text:
        return typed
    mm = parse_length(text, "in").mm
    kept_as_shown = own_mm is not None and abs(mm - own_mm) <= SHOWN_IN / 2 * INCH_MM
    return typed | {"spread": f"{own_mm if kept_as_shown else mm:.5f}"}


def _listed(
    request: Request,
    shop: Shop,
    kind: str,
    refused: Refused | None = None,
    low: bool = False,
    status: int = 200,
) -> Response:
    rows = to_order(shop) if low else kept(shop, kind)
    on_shelf = {one.record.id: one for one in strings_on_shelf(shop)} if kind == "stock" else {}
    return page(
        request, "shop_records.html", status, kind=kind, fields=ADDED[kind], rows=rows, on_shelf=on_shelf, low=low,
        refused=refused, gone=dropped(shop, kind, now()), quantities=gauge_kinds(), plain=plain_digits,
        digits=currency_digits(shop), places=decimals_of,
    )  # fmt: skip
