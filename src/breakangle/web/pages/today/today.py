"""Today: the work by state, what is due, where to begin; and the first page of a new shop."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from starlette.responses import RedirectResponse, Response

from breakangle.services.example_workshop.workshop import load_example, remove_example
from breakangle.services.overview.today import today
from breakangle.storage.records.records import InstrumentRecord
from breakangle.storage.records.store import any_record
from breakangle.web.dependencies import TheShop, TheVisitor, TheWorkshop, now, to
from breakangle.web.render import page
from breakangle.web.visitor import VIEW_COOKIE

router = APIRouter(include_in_schema=False)
A_YEAR_S = 365 * 86400


@router.get("/")
def today_page(request: Request, shop: TheShop, workshop: TheWorkshop) -> Response:
    """Show today's work; a new shop shows how to begin."""
    if not workshop.example and not any_record(shop, InstrumentRecord):
        return page(request, "start.html", example_there=request.app.state.example.made)
    return page(request, "today.html", day=today(shop, now()), keeper=workshop.keeper)


@router.post("/view")
def choose_view(
    visitor: TheVisitor,
    back: Annotated[str, Form()] = "/",
    units: Annotated[str, Form()] = "",
    theme: Annotated[str, Form()] = "",
    type: Annotated[str, Form()] = "",
    spoken: Annotated[str, Form()] = "",
    who: Annotated[str, Form()] = "",
) -> Response:
    """Remember in this browser what was chosen, and go back to the page it was chosen on."""
    sent = {"units": units, "theme": theme, "type": type, "spoken": spoken, "who": who}
    given = {name: value for name, value in sent.items() if value}
    place = back if back.startswith("/") and not back.startswith(("//", "/\\")) else "/"
    answer = RedirectResponse(place, status_code=303)
    chosen = visitor.view.changed(**given).to_cookie()
    answer.set_cookie(VIEW_COOKIE, chosen, max_age=A_YEAR_S, samesite="lax", httponly=True)
    return answer


@router.post("/example-workshop")
def make_example(request: Request) -> Response:
    """Make the example workshop, where it is not there yet, and go there."""
    held = request.app.state.example
    if not held.made:
        held.replaced(lambda: load_example(request.app.state.options.folder, now()))
    return RedirectResponse("/example/", status_code=303)


@router.post("/example-workshop/remove")
def drop_example(request: Request) -> Response:
    """Remove the example workshop; the shop itself is another folder and is not touched."""
    request.app.state.example.replaced(lambda: remove_example(request.app.state.options.folder))
    return to(request, "/") if not request.app.state.workshop.example else RedirectResponse("/", 303)
