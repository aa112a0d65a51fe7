"""Work: the visit's procedures, and one of them step by step. Looking at a step stores nothing; doing it is a press."""

from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Form, Request
from starlette.responses import Response

from breakangle.reference.routine import cautions, facts
from breakangle.services.procedures.at_visit import (
    RunSeen,
    procedures,
    run_all,
    run_decline,
    run_go_to,
    run_leave_out,
    run_looked_at,
    run_next,
    run_of,
    run_redo,
    run_seen,
    run_timer,
    run_told,
    run_undo,
    runs,
    start_run,
)
from breakangle.services.procedures.minutes import learned
from breakangle.services.procedures.runs import known_facts
from breakangle.services.visits.visits import instrument_of
from breakangle.services.workshop.prices import FOOT_KEY, setting
from breakangle.storage.records.records import InstrumentRecord, Visit
from breakangle.storage.records.store import Shop
from breakangle.web.dependencies import TheShop, TheStamp, TheVisit, now, to
from breakangle.web.render import page

router = APIRouter(include_in_schema=False)


@router.get("/visits/{number}/work")
def work_page(request: Request, shop: TheShop, visit: TheVisit) -> Response:
    """Show the procedures in the order of work, and how far this visit is in each."""
    begun = {one.begun.procedure: one for one in runs(shop, visit.id, now())}
    listed = procedures(shop, known_facts(shop, visit.id))
    open_ones = [
        one for one in listed if (begun[one.name].seen.step if one.name in begun else not one.when_asked)
    ]
    following = next((one.name for one in open_ones), "")
    return page(
        request, "work.html", visit=visit, instrument=_instrument(shop, visit), listed=listed, begun=begun,
        following=following, minutes=sum(one.minutes for one in open_ones),
    )  # fmt: skip


@router.post("/visits/{number}/work")
def done_the_usual_way(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    stamp: TheStamp,
    name: Annotated[list[str] | None, Form()] = None,
    decline: Annotated[str, Form()] = "",
) -> Response:
    """Store that every step of the ticked procedures was done, away from the screen; or that one is declined."""
    for one in [decline] if decline else name or []:
        run = _begun(shop, visit, stamp, one)
        if run.seen.step is not None:
            move = run_decline if decline else run_all
            move(shop, stamp, run.begun.id, run.seen.step.id)
    return to(request, f"/visits/{visit.number}/work")


@router.get("/visits/{number}/procedures/{name}")
def begin_page(request: Request, shop: TheShop, visit: TheVisit, name: str, at: str = "") -> Response:
    """Show a procedure from its first step, or from another; it begins when something is done."""
    run = run_of(shop, visit.id, name, now())
    if run.record is not None:
        return to(request, f"/visits/{visit.number}/steps/{run.record.id}")
    return _shown(request, shop, visit, _looked_at(shop, visit, run, at))


@router.post("/visits/{number}/procedures/{name}")
async def begin(request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, name: str) -> Response:
    """Begin a procedure with a first move, as `move` makes it."""
    async with request.form(max_fields=20, max_files=0) as form:
        typed = {one: str(value) for one, value in form.items()}
    run = _begun(shop, visit, stamp, name)
    return _answer(request, shop, visit, _moved(shop, stamp, run.begun.id, typed))


@router.get("/visits/{number}/steps/{run_id}")
def step_page(request: Request, shop: TheShop, visit: TheVisit, run_id: str, at: str = "") -> Response:
    """Show the step at hand, or the one named by `at`."""
    return _shown(request, shop, visit, _looked_at(shop, visit, run_seen(shop, run_id, now()), at))


@router.post("/visits/{number}/steps/{run_id}")
async def move(request: Request, shop: TheShop, visit: TheVisit, stamp: TheStamp, run_id: str) -> Response:
    """Make one move: next, anyway, all, leave, timer, go, undo, redo, told; what speaks against it is shown first.

    All but the last are of the step the form was for: if it is marked by now, nothing is moved.
    """
    async with request.form(max_fields=20, max_files=0) as form:
        typed = {name: str(value) for name, value in form.items()}
    return _answer(request, shop, visit, _moved(shop, stamp, run_id, typed))


def _begun(shop: Shop, visit: Visit, stamp: TheStamp, name: str) -> RunSeen:
    """Return the visit's run of a procedure, begun now if it was not."""
    run = run_of(shop, visit.id, name, stamp.at)
    return run if run.record is not None else start_run(shop, stamp, visit.id, name)


def _looked_at(shop: Shop, visit: Visit, run: RunSeen, at: str) -> RunSeen:
    return run_looked_at(shop, run, at, visit.id, now()) if at else run


def _answer(request: Request, shop: Shop, visit: Visit, made: RunSeen) -> Response:
    if made.against:
        return _shown(request, shop, visit, made, status=409)
    return to(request, f"/visits/{visit.number}/steps/{made.begun.id}")


def _moved(shop: Shop, stamp: TheStamp, run_id: str, typed: Mapping[str, str]) -> RunSeen:
    told = {name: value for name, value in typed.items() if name in facts() and value}
    step = typed.get("step", "")
    moves = {
        "anyway": lambda: run_next(shop, stamp, run_id, anyway=True, step_id=step),
        "all": lambda: run_all(shop, stamp, run_id, step),
        "leave": lambda: run_leave_out(shop, stamp, run_id, typed.get("why", ""), step),
        "go": lambda: run_go_to(shop, stamp, run_id, step),
        "timer": lambda: run_timer(shop, stamp, run_id, step),
        "undo": lambda: run_undo(shop, stamp, run_id, step),
        "redo": lambda: run_redo(shop, stamp, run_id, step),
        "told": lambda: run_told(shop, stamp, run_id, told),
    }
    return moves.get(typed.get("move", ""), lambda: run_next(shop, stamp, run_id, step_id=step))()


def _shown(request: Request, shop: Shop, visit: Visit, run: RunSeen, status: int = 200) -> Response:
    name = run.procedure.name
    own_minutes = learned(shop, {name: run.procedure}).get(name, {})
    place = f"steps/{run.record.id}" if run.record is not None else f"procedures/{name}"
    return page(
        request, "work_step.html", status, visit=visit, instrument=_instrument(shop, visit), run=run,
        cautions=cautions(), facts=facts(), place=place, own_minutes=own_minutes, foot_key=setting(shop, FOOT_KEY),
    )  # fmt: skip


def _instrument(shop: Shop, visit: Visit) -> object:
    return instrument_of(shop.get(InstrumentRecord, visit.instrument_id))
