"""What a page asks of its request: the shop it is about, who is working, and when."""

from datetime import UTC, datetime
from typing import Annotated

from fastapi import Depends, Path, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse

from breakangle.services.visits.visits import visit_numbered
from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import NOBODY_NAMED, Stamp
from breakangle.web.visitor import Visitor, visitor_of
from breakangle.web.workshops import Workshop


def now() -> datetime:
    """Return this moment."""
    return datetime.now(UTC)


# What waits for nothing is asked for where the request is: a thread's turn for each would take longer than the page.
async def _workshop(request: Request) -> Workshop:
    found: Workshop = request.app.state.workshop
    return found


async def _shop(request: Request) -> Shop:
    found: Workshop = request.app.state.workshop
    there = found.at_hand()
    return await run_in_threadpool(found.shop) if there is None else there


async def _stamp(request: Request) -> Stamp:
    return Stamp(visitor_of(request).who or NOBODY_NAMED, now())


async def _visitor(request: Request) -> Visitor:
    return visitor_of(request)


TheWorkshop = Annotated[Workshop, Depends(_workshop)]
TheShop = Annotated[Shop, Depends(_shop)]
TheStamp = Annotated[Stamp, Depends(_stamp)]
TheVisitor = Annotated[Visitor, Depends(_visitor)]


MOST_NUMBER = 2**31 - 1
Number = Annotated[int, Path(ge=1, le=MOST_NUMBER, description="number of the visit's sheet")]


def _visit(shop: TheShop, number: Number) -> Visit:
    return visit_numbered(shop, number)


TheVisit = Annotated[Visit, Depends(_visit)]


def to(request: Request, path: str) -> RedirectResponse:
    """Return the way to another page of the same shop, after something was stored."""
    return RedirectResponse(f"{request.scope.get('root_path', '')}{path}", status_code=303)
