"""Templates at true size: what there are, what may be chosen, each as PDF, SVG or DXF; and whether a print is true."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from breakangle.documents.renderers.template_dxf import template_dxf
from breakangle.documents.renderers.template_pdf import template_pdf
from breakangle.documents.renderers.template_svg import template_svg
from breakangle.documents.renderers.template_units import words_in_inches
from breakangle.documents.true_size.geometry import Drawing
from breakangle.documents.true_size.kinds import TemplateKind
from breakangle.documents.true_size.registry import template_kind, template_kinds
from breakangle.documents.true_size.tiling import PAPERS, Paper, paper_named
from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.services.workshop.paper_heading import paper_of
from breakangle.storage.records.store import Shop

FORMS = {"pdf": "application/pdf", "svg": "image/svg+xml", "dxf": "image/vnd.dxf"}
BAR_MM = 100.0  # chosen
GOOD_PERCENT, LARGEST_PERCENT = (
    0.15,
    25.0,
)  # a rule is read to 0.1 or 0.2 mm, common practice, no source; beyond the latter it is another bar


def templates() -> tuple[TemplateKind, ...]:
    """Return every template there is: name, words, and its options for a form."""
    return tuple(template_kinds().values())


def papers() -> tuple[Paper, ...]:
    """Return the papers that PDFs are made for."""
    return tuple(PAPERS.values())


def draw_template(
    service: Service, name: str, options: Mapping[str, Any] | None = None, own_unit: str = "mm"
) -> Drawing:
    """Return a template of the service's instrument as geometry in mm; bare lengths among options are in `own_unit`.

    Raises:
        CorrectInputError: no such template or option, a value it cannot have, or an instrument it cannot be drawn of.
    """
    return template_kind(name).drawing(service, options, own_unit)


def template_file(
    service: Service,
    name: str,
    form: str = "pdf",
    on: str | Paper = "a4",
    options: Mapping[str, Any] | None = None,
    own_unit: str = "mm",
) -> bytes:
    """Return a template as a file: `pdf` at true size on `on` (a4 or letter), `svg` or `dxf` in mm.

    Lengths among the options that carry no unit are in `own_unit`, `mm` or `in`, and so is what is said of the drawing.

    Raises:
        CorrectInputError: as `draw_template`, or no such form or paper.
        InstallError: the typesetter is not installed.
    """
    if form not in FORMS:
        raise CorrectInputError(
            tr('"{form}" is not a form of a template', form=form),
            tr("one of {forms}", forms=", ".join(FORMS)),
            tr("choose one"),
        )
    drawing = draw_template(service, name, options, own_unit)
    if own_unit != "mm":
        drawing = words_in_inches(drawing)
    if form == "svg":
        return template_svg(drawing).encode()
    if form == "dxf":
        return template_dxf(drawing)
    return template_pdf(drawing, on if isinstance(on, Paper) else paper_named(on))


def shop_paper(shop: Shop, asked: str | None = None) -> Paper:
    """Return the paper asked for, or else the one the shop prints on.

    Raises:
        CorrectInputError: neither A4 nor Letter.
    """
    return paper_of(shop, asked)


@dataclass(frozen=True)
class PrintedScale:
    """What a printed bar of 100 mm measured: how far off the print is, and whether it may be worked from."""

    measured_mm: float
    off_percent: float
    good: bool
    told: str


def printed_scale(measured_mm: float, longest_mm: float = 0.0) -> PrintedScale:
    """Return whether a print is true, from what its bar of 100 mm measured.

    Args:
        measured_mm: what the bar measured on paper.
        longest_mm: the longest distance worked from, to say what the error comes to there.

    Raises:
        CorrectInputError: a measure that no print of this bar can have.
    """
    off = 100.0 * (measured_mm / BAR_MM - 1.0)
    if abs(off) > LARGEST_PERCENT:
        raise CorrectInputError(
            tr("the bar measures {measured_mm:g} mm", measured_mm=measured_mm),
            tr("it is {bar_mm:g} mm, and no print is off by a quarter", bar_mm=BAR_MM),
            tr("measure the bar from end line to end line"),
        )
    good = abs(off) <= GOOD_PERCENT + 1e-9
    if good:
        return PrintedScale(measured_mm, off, True, tr("True size: work from it."))
    there = (
        tr(
            ", {off:.1f} mm over {longest_mm:.0f} mm",
            off=abs(off) / 100.0 * longest_mm,
            longest_mm=longest_mm,
        )
        if longest_mm
        else ""
    )
    way = tr("large") if off > 0 else tr("small")
    told = tr(
        "Printed {off:.1f} % too {way}{there}: do not cut from it. Print again at 100 %, "
        "“actual size”, with the paper this was made for.",
        off=abs(off),
        way=way,
        there=there,
    )
    return PrintedScale(measured_mm, off, False, told)
