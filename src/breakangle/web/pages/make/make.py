"""Make: sheets for parts of an instrument, worked out from its sizes, its strings and its targets."""

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from starlette.responses import Response

from breakangle.documents.renderers.page_file import FORMS
from breakangle.documents.true_size.registry import template_kind
from breakangle.model.typed_number import plain_digits
from breakangle.reference.families import family_of
from breakangle.reference.routine import cautions_against
from breakangle.services.climate.top_over_visits import TOP, keep_top, top_given, top_over_visits, with_visits
from breakangle.services.design.measured import lead_of, measured_against, measured_page
from breakangle.services.making.kinds import Job, MakingSheet
from breakangle.services.making.registry import making_file, making_job, making_jobs
from breakangle.services.procedures.quote import Quote, quote
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.visits import instrument_of
from breakangle.services.workshop.paper_heading import letterhead_of, paper_of
from breakangle.storage.records.records import InstrumentRecord, Visit
from breakangle.storage.records.store import Shop
from breakangle.web.dependencies import TheShop, TheStamp, TheVisit, TheVisitor, to
from breakangle.web.form_data import TheTyped
from breakangle.web.pages.documents.paper import sheet_response
from breakangle.web.render import page
from breakangle.web.visitor import Visitor

router = APIRouter(include_in_schema=False)


@router.get("/visits/{number}/make")
def make_page(request: Request, shop: TheShop, visit: TheVisit) -> Response:
    """Show what can be made for this instrument; what its kind lacks comes last, in a line."""
    instrument = instrument_of(shop.get(InstrumentRecord, visit.instrument_id))
    jobs, family = list(making_jobs().values()), family_of(instrument)
    usual = [one for one in jobs if one.usual_on(family)]
    unusual = [one for one in jobs if one not in usual]
    return page(request, "make.html", visit=visit, instrument=instrument, jobs=usual, unusual=unusual)


@router.get("/visits/{number}/make/built")
def built_page(request: Request, shop: TheShop, visit: TheVisit) -> Response:
    """Show what the visit found against the figures the instrument was designed or wanted for."""
    instrument = instrument_of(shop.get(InstrumentRecord, visit.instrument_id))
    service = service_of(shop, visit.id)
    found = measured_against(service.model_copy(update={"readings": (), "work": ()}), service)
    return page(
        request, "make_built.html", visit=visit, instrument=instrument, measured=found, lead=lead_of(found),
        sheet=measured_page(found, instrument.name),
    )  # fmt: skip


@router.get("/visits/{number}/make/{name}")
def job_page(request: Request, shop: TheShop, visit: TheVisit, visitor: TheVisitor, name: str) -> Response:
    """Show one making sheet, with what was chosen of it."""
    instrument = instrument_of(shop.get(InstrumentRecord, visit.instrument_id))
    job, given = making_job(name), _filled(shop, visit, name, _given(name, request.query_params))
    sheet = _sheet(shop, visit, visitor, name, given)
    return page(
        request, "make_job.html", visit=visit, instrument=instrument, job=job, sheet=sheet, given=given,
        cautions=[row.words for row in cautions_against(sheet.dangers)], own_unit=visitor.view.own_unit,
        chosen=request.url.query, quote=_quote(shop, visit, job), plain=plain_digits,
        papers=[(template_kind(one.template), urlencode(one.text())) for one in sheet.papers],
    )  # fmt: skip


@router.post("/visits/{number}/make/top")
def keep_top_read(
    request: Request, shop: TheShop, visit: TheVisit, visitor: TheVisitor, stamp: TheStamp, typed: TheTyped
) -> Response:
    """Keep with the visit how its top was read."""
    keep_top(shop, visit, stamp, typed, visitor.view.own_unit)
    return to(request, f"/visits/{visit.number}/make/top")


@router.get("/visits/{number}/make/{name}/sheet.{form}")
def job_sheet(
    request: Request, shop: TheShop, visit: TheVisit, visitor: TheVisitor, name: str, form: str
) -> Response:
    """Send a making sheet as a file that opens in the browser."""
    sheet = _sheet(shop, visit, visitor, name, _filled(shop, visit, name, _given(name, request.query_params)))
    title = instrument_of(shop.get(InstrumentRecord, visit.instrument_id)).name
    inch = visitor.view.units == "inch"
    content = making_file(sheet, title, form, paper=paper_of(shop), letterhead=letterhead_of(shop), inch=inch)
    return sheet_response(content, FORMS[form], f"{name}-{visit.number:06d}.{form}")


def _quote(shop: Shop, visit: Visit, job: Job) -> Quote:
    return quote(shop, visit, job.procedure, (str(job.words),)) if job.procedure else Quote(0.0, ())


def _given(name: str, asked: Mapping[str, Any]) -> dict[str, str]:
    """Return what was chosen of a job's options, what was left empty left out."""
    known = {one.name for one in making_job(name).options}
    return {key: str(value) for key, value in asked.items() if key in known and str(value).strip()}


def _sheet(shop: Shop, visit: Visit, visitor: Visitor, name: str, given: Mapping[str, str]) -> MakingSheet:
    sheet = making_job(name).sheet(service_of(shop, visit.id), given, visitor.view.own_unit)
    return with_visits(sheet, top_over_visits(shop, visit.instrument_id)) if name == TOP else sheet


def _filled(shop: Shop, visit: Visit, name: str, given: dict[str, str]) -> dict[str, str]:
    """Return what was chosen, with what the visits tell of a top where nothing was."""
    return top_given(shop, visit, given) if name == TOP else given
