"""Design: wishes typed in, the geometry and budget that follow, drawings at true size, and the way to take it in."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from breakangle.documents.renderers.page import Facts, Page, Paragraph, Points, Table
from breakangle.model.errors import BreakangleError, CorrectInputError
from breakangle.model.measure import parse_length
from breakangle.model.service import Service
from breakangle.model.service_file import service_text
from breakangle.model.typed_number import number_within, whole_within
from breakangle.model.words.speech import mark, tr
from breakangle.reference.families import offered_first
from breakangle.services.design.budget import Budget, designed, saddle_for
from breakangle.services.design.sheet import design_drawing, design_page
from breakangle.services.design.wishes import Wishes, designed_service
from breakangle.services.documents.templates import FORMS
from breakangle.services.workshop.kinds import kind_here, kinds_offered
from breakangle.services.workshop.paper_heading import paper_of
from breakangle.storage.records.store import Shop
from breakangle.web.dependencies import TheShop, TheVisitor
from breakangle.web.pages.documents.paper import sheet_response
from breakangle.web.render import page

router = APIRouter(include_in_schema=False)
# What is typed as a length: its words, least and most in mm; and which of them replace a size of the kind.
LENGTHS = {
    "scale": (mark("scale"), 200.0, 1300.0), "low": (mark("action, lowest string"), 0.3, 6.0),
    "high": (mark("action, highest string"), 0.3, 6.0), "relief": (mark("relief"), 0.0, 1.0),
    "bridge": (mark("bridge over the top"), 0.5, 40.0), "board": (mark("board at the joint"), 1.0, 20.0),
    "crown": (mark("height of a crown"), 0.3, 3.0),
}  # fmt: skip
BUILT = ("bridge", "board", "crown")
OTHERS = ("kind", "name", "tuning", "frets", "break")
LONGEST = 120


@dataclass(frozen=True)
class _Design:
    """A design that could be worked out: its service, its budget, and the sheet's blocks by what they are."""

    service: Service
    budget: Budget
    lead: str
    facts: tuple[tuple[str, str], ...]
    table: Table
    notes: tuple[str, ...]


def _typed(request: Request) -> dict[str, str]:
    """Return what was typed, each once and no longer than it may be; what was left empty left out."""
    asked = request.query_params
    return {
        name: asked[name].strip()[:LONGEST] for name in (*OTHERS, *LENGTHS) if asked.get(name, "").strip()
    }


Typed = Annotated[dict[str, str], Depends(_typed)]


@router.get("/design")
def design_form(request: Request, shop: TheShop, visitor: TheVisitor, typed: Typed) -> Response:
    """Show the form, and the design where a kind was chosen; nothing is stored."""
    found, refused = None, None
    if "kind" in typed:
        try:
            found = _worked_out(shop, typed, visitor.view.own_unit)
        except BreakangleError as cause:
            refused = cause
    values = {
        "typed": typed, "design": found, "refused": refused, "families": kinds_offered(shop), "first": offered_first(),
        "lengths": {name: words for name, (words, _, _) in LENGTHS.items()}, "chosen": request.url.query,
        "content": service_text(found.service) if found else "",
    }  # fmt: skip
    return page(request, "design.html", 422 if refused else 200, **values)


@router.get("/design/side.{form}")
def design_side(shop: TheShop, visitor: TheVisitor, typed: Typed, form: str) -> Response:
    """Send the build from the side at true size."""
    found = _worked_out(shop, typed, visitor.view.own_unit)
    if form not in FORMS:
        raise CorrectInputError(
            tr('"{form}" is not a form of a template', form=form[:20]),
            tr("one of {forms}", forms=", ".join(FORMS)),
            "",
        )
    content = design_drawing(found.service, found.budget, form, paper_of(shop).name)
    return sheet_response(content, FORMS[form], f"build-side.{form}")


def _worked_out(shop: Shop, typed: Mapping[str, str], own_unit: str) -> _Design:
    """Return the design for what was typed.

    Raises:
        CorrectInputError: a wish that cannot be.
    """
    kin = kind_here(shop, typed.get("kind", ""))
    mm = {name: _length(name, typed[name], own_unit) for name in LENGTHS if name in typed}
    sizes = {"scale_mm": mm["scale"]} if "scale" in mm else {}
    if "frets" in typed:
        sizes["frets"] = float(_number("frets", whole_within(typed["frets"], 8, 36)))
    ends = [mm[name] for name in ("low", "high") if name in mm]
    notes = tuple(one.strip() for one in typed.get("tuning", "").split(",") if one.strip())
    name = typed.get("name") or tr("{kind}, to be built", kind=tr(kin.words))
    action = (ends[0], ends[-1]) if ends else None
    wishes = Wishes(kin.kind, name, sizes, notes, action_mm=action, relief_mm=mm.get("relief"), made=kin.made)
    service = designed_service(wishes)
    steep = _number("break", number_within(typed["break"], 0.0, 90.0)) if "break" in typed else None
    built = {f"{one}_mm": mm[one] for one in BUILT if one in mm}
    budget = designed(service, built | saddle_for(steep))
    return _told(service, budget, design_page(service, budget))


def _told(service: Service, budget: Budget, sheet: Page) -> _Design:
    lead = next(one.text for one in sheet.blocks if isinstance(one, Paragraph))
    facts = next(one.pairs for one in sheet.blocks if isinstance(one, Facts))
    table = next(one for one in sheet.blocks if isinstance(one, Table))
    notes = next(one.items for one in sheet.blocks if isinstance(one, Points))
    return _Design(service, budget, lead, facts, table, notes)


def _length(name: str, text: str, own_unit: str) -> float:
    words, low, high = LENGTHS[name]
    try:
        return parse_length(text, own_unit, low, high).mm
    except CorrectInputError as cause:
        raise CorrectInputError(f"{tr(words)}: {cause.given}", cause.possible, cause.remedy) from cause


def _number(name: str, value: float | None) -> float:
    if value is None:
        raise CorrectInputError(
            tr("{name} is not a number that it can be", name=name), tr("a plain number"), ""
        )
    return value
