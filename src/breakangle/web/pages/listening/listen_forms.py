"""A recording heard another way: a slide, a strum, taps, hum, how old strings are, how long notes ring."""

from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from starlette.responses import Response

from breakangle.drawings.charts.dots import dots_chart
from breakangle.services.listening.recorded_forms import FORMS, form_heard, store_answer
from breakangle.services.listening.recorded_forms import Form as HeardForm
from breakangle.services.listening.recordings import recordings_of
from breakangle.services.visits.visits import instrument_of
from breakangle.storage.records.records import InstrumentRecord
from breakangle.storage.schema.stamp import new_id
from breakangle.web.dependencies import TheShop, TheStamp, TheVisit, now, to
from breakangle.web.pages.listening.listen_words import SMALL
from breakangle.web.render import page

router = APIRouter(include_in_schema=False)
Key = Annotated[str, Query(max_length=20)]


@router.get("/visits/{number}/listen/as")
def as_form(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    recording: Annotated[list[str], Query(max_length=20)] = [],  # noqa: B006 (FastAPI reads it, nobody changes it)
    form: HeardForm = "rings",
    string: Annotated[int, Query(ge=1, le=24)] = 1,
    against: Key = "",
) -> Response:
    """Show what is heard in a recording, taken for a form."""
    if not recording:
        return to(request, f"/visits/{visit.number}/listen")
    kept = recordings_of(shop, visit, recording)
    other = recordings_of(shop, visit, [against])[0] if against else None
    answer = form_heard(shop, visit, kept, form, string, other)
    drawing = (
        dots_chart(answer.series, answer.axes, SMALL) if answer.axes is not None and answer.series else None
    )
    instrument = instrument_of(shop.get(InstrumentRecord, visit.instrument_id))
    return page(
        request, "listen_forms.html", visit=visit, instrument=instrument, kept=kept, answer=answer, drawing=drawing,
        form=form, string=string, against=against, key=new_id(now()), forms=FORMS, every=recordings_of(shop, visit),
    )  # fmt: skip


@router.post("/visits/{number}/listen/as")
def store_form(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    stamp: TheStamp,
    recording: Annotated[list[str], Form()],
    form: Annotated[HeardForm, Form()],
    key: Annotated[str, Form(max_length=60)],
    string: Annotated[int, Form(ge=1, le=24)] = 1,
) -> Response:
    """Store the readings of a slide or a strum, and go back to what was heard so far."""
    answer = form_heard(shop, visit, recordings_of(shop, visit, recording), form, string, None)
    store_answer(shop, visit, answer, stamp, key)
    return to(request, f"/visits/{visit.number}/listen#heard")
