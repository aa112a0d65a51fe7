"""Work: the visit's procedures, and one of them step by step, by key, pedal or thumb, with its timers."""

from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Form, Request
from starlette.responses import Response

from breakangle.desk.procedures import (
    RunSeen,
    procedures,
    run_all,
    run_back,
    run_go_to,
    run_leave_out,
    run_next,
    run_seen,
    run_timer,
    run_told,
    runs,
    start_run,
)
from breakangle.desk.shop_visits import instrument_of
from breakangle.shop.records import InstrumentRecord, Visit
from breakangle.shop.store import Shop
from breakangle.tables.routine import cautions, facts
from breakangle.web.asked import TheShop, TheStamp, TheVisit, now, to
from breakangle.web.render import page

router = APIRouter(include_in_schema=False)


@router.get("/visits/{number}/work")
def work_page(request: Request, shop: TheShop, visit: TheVisit) -> Response:
    """Show the procedures in the order of work, and how far this visit is in each."""
    begun = {one.record.procedure: one for one in runs(shop, visit.id, now())}
    listed = procedures(shop)
    following = next((one.name for one in listed if one.name not in begun or begun[one.name].seen.step), "")
    return page(
        request, "work.html", visit=visit, instrument=_instrument(shop, visit), listed=listed, begun=begun,
        following=following,
    )  # fmt: skip


@router.post("/visits/{number}/work")
def begin(
    request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, name: Annotated[str, Form()]
) -> Response:
    """Begin a procedure, and go to its first step."""
    run = start_run(shop, stamp, visit.id, name)
    return to(request, f"/visits/{visit.number}/steps/{run.record.id}")


@router.get("/visits/{number}/steps/{run_id}")
def step_page(request: Request, shop: TheShop, visit: TheVisit, run_id: str) -> Response:
    """Show the step at hand."""
    return _shown(request, shop, visit, run_seen(shop, run_id, now()))


@router.post("/visits/{number}/steps/{run_id}")
async def move(request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, run_id: str) -> Response:
    """Make one move: next, anyway, all, back, leave, timer, go, told; what speaks against it is shown first.

    All but the last two are of the step the form was for: if another is at hand by now, that one is shown.
    """
    async with request.form(max_fields=20, max_files=0) as form:
        typed = {name: str(value) for name, value in form.items()}
    made = _moved(shop, stamp, run_id, typed)
    if made.against:
        return _shown(request, shop, visit, made, status=409)
    place = "work" if made.seen.step is None else f"steps/{run_id}"
    return to(request, f"/visits/{visit.number}/{place}")


def _moved(shop: Shop, stamp: TheStamp, run_id: str, typed: Mapping[str, str]) -> RunSeen:
    told = {name: value for name, value in typed.items() if name in facts() and value}
    step = typed.get("step", "")
    moves = {
        "anyway": lambda: run_next(shop, stamp, run_id, anyway=True, step_id=step),
        "all": lambda: run_all(shop, stamp, run_id, step),
        "back": lambda: run_back(shop, stamp, run_id, step),
        "leave": lambda: run_leave_out(shop, stamp, run_id, typed.get("why", ""), step),
        "timer": lambda: run_timer(shop, stamp, run_id, step),
        "go": lambda: run_go_to(shop, stamp, run_id, step),
        "told": lambda: run_told(shop, stamp, run_id, told),
    }
    return moves.get(typed.get("move", ""), lambda: run_next(shop, stamp, run_id, step_id=step))()


def _shown(request: Request, shop: Shop, visit: Visit, run: RunSeen, status: int = 200) -> Response:
    return page(
        request, "work_step.html", status, visit=visit, instrument=_instrument(shop, visit), run=run,
        cautions=cautions(), facts=facts(),
    )  # fmt: skip


def _instrument(shop: Shop, visit: Visit) -> object:
    return instrument_of(shop.get(InstrumentRecord, visit.instrument_id))
