"""The instruments: the list, one instrument with its time line and what its neck does, and what was searched for."""

from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Form, Request
from starlette.responses import Response

from breakangle.model.errors import BreakangleError
from breakangle.model.identity_marks import identity_marks
from breakangle.reference.posts import posts
from breakangle.reference.strings import makes, wraps
from breakangle.services.intake.corrected_instrument import correct_instrument
from breakangle.services.overview.instrument import instrument_told
from breakangle.services.overview.search import find, find_near, instruments_page
from breakangle.services.plans.charts import history_chart, points_of
from breakangle.services.visits.instrument_identity.candidates import may_be_joined
from breakangle.services.visits.instrument_identity.joining import (
    join_instruments,
    joined_into,
    joinings_of,
    split_instruments,
)
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import EditedMeanwhileError, NoSuchRecordError, ShopOutOfReachError
from breakangle.web.dependencies import TheShop, TheStamp, TheVisitor, to
from breakangle.web.drawn import Wide, look_for
from breakangle.web.form_data import TheTyped
from breakangle.web.forms.instrument import changed_boxes, instrument_form
from breakangle.web.render import page
from breakangle.web.visitor import Visitor

router = APIRouter(include_in_schema=False)


@router.get("/instruments")
def list_page(request: Request, shop: TheShop, at: int = 1) -> Response:
    """Show the instruments, a page at a time."""
    return page(request, "instruments.html", listed=instruments_page(shop, at))


@router.get("/search")
def search_page(request: Request, shop: TheShop, q: str = "") -> Response:
    """Show what was found all over the shop."""
    words = q.strip()[:200]
    found = find(shop, words) if words else ()
    near, alike = find_near(shop, words) if words and not found else ("", ())
    return page(request, "search.html", words=words, found=found or alike, near=near)


@router.get("/instruments/{key}")
def instrument_page(
    request: Request, shop: TheShop, visitor: TheVisitor, key: str, wide: Wide = None
) -> Response:
    """Show one instrument: what it is, whose, every visit on one time line, what its neck does."""
    kept = joined_into(shop, key)
    if kept is not None:  # such as from the label of one that was joined since
        return to(request, f"/instruments/{kept}")
    return _shown(request, shop, visitor, key, wide)


@router.post("/instruments/{key}")
def correct(
    request: Request, shop: TheShop, visitor: TheVisitor, stamp: TheStamp, typed: TheTyped, key: str
) -> Response:
    """Store what is really known of it; what was wrong, or changed meanwhile, is said beside what was typed."""
    seen = typed.get("seen", "")
    version = int(seen) if seen.isdecimal() else None
    try:
        correct_instrument(shop, key, instrument_form(typed), stamp, visitor.view.own_unit, version)
    except (NoSuchRecordError, ShopOutOfReachError):
        raise
    except BreakangleError as cause:
        return _shown(request, shop, visitor, key, None, changed_boxes(typed), cause)
    return to(request, f"/instruments/{key}")


@router.get("/instruments/{key}/same")
def same_page(request: Request, shop: TheShop, key: str, q: str = "") -> Response:
    """Show the instruments that this one may be, side by side, to be joined by a person."""
    kept, others = may_be_joined(shop, key, q[:200])
    return page(request, "instrument_same.html", kept=kept, others=others, words=q[:200].strip())


@router.post("/instruments/{key}/join")
def join(
    request: Request, shop: TheShop, stamp: TheStamp, key: str, other: Annotated[str, Form()]
) -> Response:
    """Join another record of the same instrument to this one."""
    join_instruments(shop, key, other, stamp)
    return to(request, f"/instruments/{key}")


@router.post("/instruments/{key}/split")
def split(
    request: Request, shop: TheShop, stamp: TheStamp, key: str, joined: Annotated[str, Form()]
) -> Response:
    """Take an instrument that was joined to this one out again."""
    split_instruments(shop, joined, stamp)
    return to(request, f"/instruments/{key}")


def _shown(
    request: Request,
    shop: Shop,
    visitor: Visitor,
    key: str,
    wide: int | None,
    yours: Mapping[str, str] | None = None,
    error: BreakangleError | None = None,
) -> Response:
    told = instrument_told(shop, key)
    look = look_for(visitor, wide)
    points = points_of(tuple(reversed(told.visits)))
    chart = history_chart(points, name=told.instrument.name, look=look) if len(points) > 1 else None
    if request.method == "GET" and "hx-request" in request.headers:  # the chart, drawn anew for another width
        return page(request, "_history.html", chart=chart)
    status = 200 if error is None else 409 if isinstance(error, EditedMeanwhileError) else 422
    return page(
        request, "instrument.html", status, told=told, chart=chart, yours=yours or {}, error=error,
        makes=makes(), wraps=wraps(), posts=posts(), joinings=joinings_of(shop, key),
        marks=identity_marks(told.instrument.model_extra or {}),
    )  # fmt: skip
