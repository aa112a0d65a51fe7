"""Paper: the sheet for the owner, the form for the bench, the label, and templates at true size."""

from typing import Annotated, Literal

from fastapi import APIRouter, File, Form, Query, Request, UploadFile
from starlette.responses import Response

from breakangle.documents.renderers.page_file import FORMS
from breakangle.model.errors import CorrectInputError
from breakangle.model.measure import parse_length
from breakangle.model.words.speech import tr
from breakangle.services.documents.labels import labels_file
from breakangle.services.documents.sheets import SHEETS, sheet_file, sheet_name
from breakangle.services.documents.templates import papers, printed_scale, template_file, templates
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.visits import instrument_of
from breakangle.services.workshop.paper_heading import (
    letterhead_of,
    paper_of,
    set_heading,
    set_logo,
    set_paper,
)
from breakangle.storage.records.records import InstrumentRecord
from breakangle.web.dependencies import TheShop, TheStamp, TheVisit, TheVisitor, to
from breakangle.web.render import page

router = APIRouter(include_in_schema=False)
PaperName = Annotated[Literal["a4", "letter"] | None, Query()]
DRAWN = {"pdf": "application/pdf", "svg": "image/svg+xml", "dxf": "image/vnd.dxf"}
LARGEST_LOGO_BYTES = 8 * 2**20
SHEET_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'self'; sandbox"


@router.get("/visits/{number}/paper")
def paper_page(
    request: Request, shop: TheShop, visit: TheVisit, visitor: TheVisitor, bar: str = ""
) -> Response:
    """Show what can be printed of this visit."""
    own_unit = visitor.view.own_unit
    return page(
        request, "paper.html", visit=visit, templates=templates(), papers=papers(), usual=paper_of(shop).name,
        instrument=instrument_of(shop.get(InstrumentRecord, visit.instrument_id)), sheets=SHEETS,
        scale=printed_scale(parse_length(bar, own_unit).mm) if bar.strip() else None, bar=bar, own_unit=own_unit,
    )  # fmt: skip


@router.get("/visits/{number}/paper/{sheet}.{form}")
def sheet(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    visitor: TheVisitor,
    sheet: str,
    form: str,
    on: PaperName = None,
) -> Response:
    """Send a sheet, or the label, as a file that opens in the browser."""
    if sheet == "label":
        base = f"{request.url.scheme}://{request.url.netloc}{request.scope.get('root_path', '')}/instruments/"
        return sheet_response(
            labels_file(shop, [visit], on, base, inch=visitor.view.units == "inch"),
            "application/pdf",
            f"label-{visit.number:06d}.pdf",
        )
    address = f"{request.url.scheme}://{request.url.netloc}{request.scope.get('root_path', '')}/visits/{visit.number}"
    content = sheet_file(shop, visit, sheet, form, on, address, inch=visitor.view.units == "inch")
    return sheet_response(content, FORMS[form], sheet_name(visit, sheet, form))


@router.get("/visits/{number}/template/{name}.{form}")
def template(
    request: Request,
    shop: TheShop,
    visit: TheVisit,
    visitor: TheVisitor,
    name: str,
    form: str,
    on: PaperName = None,
) -> Response:
    """Send a template of the instrument, with what was chosen of it, as a file."""
    kinds = {one.name: one for one in templates()}
    known = {one.name for one in kinds[name].options} if name in kinds else set()
    chosen = {key: value for key, value in request.query_params.items() if key in known and value.strip()}
    if form not in DRAWN:
        raise CorrectInputError(
            tr('"{form}" is not a form of a template', form=form),
            tr("one of {drawn}", drawn=", ".join(DRAWN)),
            tr("choose one"),
        )
    service, own_unit = service_of(shop, visit.id), visitor.view.own_unit
    content = template_file(service, name, form, paper_of(shop, on), chosen, own_unit)
    return sheet_response(content, DRAWN[form], f"{name}.{form}")


@router.get("/shop/heading")
def heading_page(request: Request, shop: TheShop) -> Response:
    """Show the heading that the shop's paper carries."""
    return page(
        request, "shop_heading.html", heading=letterhead_of(shop), papers=papers(), usual=paper_of(shop).name
    )


@router.post("/shop/heading")
def keep_heading(
    request: Request,
    shop: TheShop,
    stamp: TheStamp,
    name: Annotated[str, Form()] = "",
    lines: Annotated[str, Form()] = "",
    paper: Annotated[str, Form()] = "",
) -> Response:
    """Store the heading and the paper."""
    set_heading(shop, stamp, name, tuple(lines.splitlines()))
    if paper:
        set_paper(shop, stamp, paper)
    return to(request, "/shop/heading")


@router.post("/shop/heading/logo")
def keep_logo(
    request: Request, shop: TheShop, stamp: TheStamp, logo: Annotated[UploadFile | None, File()] = None
) -> Response:
    """Store the logo; none takes it away."""
    content = logo.file.read(LARGEST_LOGO_BYTES + 1) if logo else b""
    if len(content) > LARGEST_LOGO_BYTES:
        raise CorrectInputError(tr("the picture is too large"), tr("8 MB at most"), tr("make it smaller"))
    set_logo(shop, stamp, (logo.filename or "logo") if logo else "logo", content)
    return to(request, "/shop/heading")


def sheet_response(content: bytes, media_type: str, name: str) -> Response:
    """Return a file that opens in the browser, whatever is in it shut off from the rest."""
    told = {"content-disposition": f'inline; filename="{name}"'}
    if not media_type.startswith("application/pdf"):
        # A page made for keeping carries its own styles; it has no script, and none may run in it.
        told["content-security-policy"] = SHEET_POLICY
    return Response(content, media_type=media_type, headers=told)
