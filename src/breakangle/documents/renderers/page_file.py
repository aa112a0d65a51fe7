"""A sheet as a file in the form asked for: one PDF, HTML or text for every sheet there is."""

from breakangle.documents.renderers.page import Page
from breakangle.documents.renderers.page_html import page_html
from breakangle.documents.renderers.page_pdf import page_pdf
from breakangle.documents.renderers.page_text import page_text
from breakangle.documents.renderers.page_units import in_inches
from breakangle.documents.true_size.tiling import Paper, paper_named
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr

FORMS = {"pdf": "application/pdf", "html": "text/html; charset=utf-8", "txt": "text/plain; charset=utf-8"}


def refuse_form(form: str) -> None:
    """Refuse a form that no sheet has.

    Raises:
        CorrectInputError: it is none of `FORMS`.
    """
    if form not in FORMS:
        raise CorrectInputError(
            tr('"{form}" is not a form of a sheet', form=form[:20]),
            tr("one of {forms}", forms=", ".join(FORMS)),
            tr("choose one"),
        )


def page_file(page: Page, form: str, *, paper: Paper | None = None, inch: bool = False) -> bytes:
    """Return a sheet as a file: `pdf` on `paper` (None: A4), `html` or `txt`; `inch`: its lengths in inches.

    Raises:
        CorrectInputError: no such form.
        InstallError: the typesetter is not installed.
    """
    refuse_form(form)
    page = in_inches(page) if inch else page
    if form == "html":
        return page_html(page).encode()
    if form == "txt":
        return page_text(page).encode()
    return page_pdf(page, paper or paper_named("a4"))
