"""Frets: the fret map, what levelling comes to at the action asked for, what to read first, and its sheet."""

from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Form, Query, Request
from starlette.responses import Response

from breakangle.documents.renderers.page_file import FORMS
from breakangle.model.errors import CorrectInputError
from breakangle.model.measure import parse_length
from breakangle.model.typed_number import plain_digits
from breakangle.model.words.speech import mark, tr
from breakangle.reference.routine import cautions_against
from breakangle.reference.strength import STRENGTHS
from breakangle.services.frets.levelling import FretWork
from breakangle.services.frets.sheet import levelling_file
from breakangle.services.frets.wear import wear_words
from breakangle.services.frets.words import CAUTIONS, after_of, checks_of, first_of, verdict_of
from breakangle.services.plans.plan_frets import fret_wear_of, levelling_done, map_mark, visit_fret_work
from breakangle.services.procedures.quote import quote
from breakangle.services.visit_sheets.latest import stored_lately
from breakangle.services.visits.visits import instrument_of
from breakangle.services.workshop.paper_heading import letterhead_of, paper_of
from breakangle.storage.records.records import InstrumentRecord, Visit
from breakangle.storage.records.store import Shop
from breakangle.web.dependencies import TheShop, TheStamp, TheVisit, TheVisitor, to
from breakangle.web.form_data import LONGEST_SIGNS
from breakangle.web.page_cache.sent_key import sent_key
from breakangle.web.pages.documents.paper import sheet_response
from breakangle.web.render import page
from breakangle.web.visitor import Visitor

router = APIRouter(include_in_schema=False)
LEVELLING = mark("fret levelling"), mark("level the frets")  # what a price list may call it
ACTION_RANGE_MM = (0.3, 6.0)
Chosen = Annotated[str, Query(max_length=40)]
Typed = Annotated[str, Form(max_length=40)]
Shown = Annotated[str, Form(max_length=LONGEST_SIGNS)]


@router.get("/visits/{number}/frets")
def frets_page(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    visitor: TheVisitor,
    strength: Chosen = "",
    low: Chosen = "",
    high: Chosen = "",
) -> Response:
    """Show what levelling comes to; nothing is stored."""
    mark = map_mark(shop, visit.id)
    work = _work(shop, visit, visitor, strength, low, high)
    instrument = instrument_of(shop.get(InstrumentRecord, visit.instrument_id))
    return page(
        request, "frets.html", visit=visit, instrument=instrument, work=work, verdict=verdict_of(work),
        first=first_of(work), after=after_of(work), checks=checks_of(work),
        wear=wear_words(fret_wear_of(shop, visit.instrument_id)), strengths=STRENGTHS, low=low, high=high,
        finest_mm=work.finest_mm, cautions=[row.words for row in cautions_against(CAUTIONS)],
        quote=quote(shop, visit, "fret-levelling", LEVELLING), plain=plain_digits,
        shown=list(reversed(range(len(instrument.strings)))), chosen=request.url.query,
        step=work.as_done().model_dump_json(exclude_unset=True) if work.orders else "", mark=mark,
        key=sent_key(request), stored=stored_lately(shop, visit, instrument, most=1),
    )  # fmt: skip


@router.post("/visits/{number}/frets")
def levelled(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    stamp: TheStamp,
    step: Shown,
    mark: Typed,
    key: Annotated[str, Form(max_length=80)] = "",
    strength: Typed = "",
    low: Typed = "",
    high: Typed = "",
) -> Response:
    """Store that the metal of the fret map shown is off; the readings after it tell whether it is so."""
    levelling_done(shop, visit.id, step, mark, stamp, key or None)
    asked = {name: one for name, one in (("strength", strength), ("low", low), ("high", high)) if one}
    chosen = f"?{urlencode(asked)}" if asked else ""
    return to(request, f"/visits/{visit.number}/frets{chosen}")


@router.get("/visits/{number}/frets/levelling.{form}")
def levelling_sheet(
    shop: TheShop,
    visit: TheVisit,
    visitor: TheVisitor,
    form: str,
    strength: Chosen = "",
    low: Chosen = "",
    high: Chosen = "",
) -> Response:
    """Send the levelling sheet as a file that opens in the browser."""
    work = _work(shop, visit, visitor, strength, low, high)
    inch = visitor.view.units == "inch"
    content = levelling_file(work, form, paper=paper_of(shop), letterhead=letterhead_of(shop), inch=inch)
    return sheet_response(content, FORMS[form], f"levelling-{visit.number:06d}.{form}")


def _work(shop: Shop, visit: Visit, visitor: Visitor, strength: str, low: str, high: str) -> FretWork:
    """Return the fret work for what was chosen: one action for all strings where only one was typed."""
    typed = [one.strip() for one in (low, high)]
    action = None
    if any(typed):
        ends = [_length(one or typed[0] or typed[1], visitor) for one in typed]
        action = (ends[0], ends[1])
    return visit_fret_work(shop, visit.id, strength or None, action)


def _length(text: str, visitor: Visitor) -> float:
    try:
        return parse_length(text, visitor.view.own_unit, *ACTION_RANGE_MM).mm
    except CorrectInputError as cause:
        raise CorrectInputError(
            tr("action: {given}", given=cause.given), cause.possible, cause.remedy
        ) from cause
