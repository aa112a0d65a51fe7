"""Sheets of a visit, as a page, a PDF, a web page or the text of a mail: what both doors ask for."""

from collections.abc import Iterator
from dataclasses import replace

from breakangle.documents.renderers.page import Page
from breakangle.documents.renderers.page_file import refuse_form
from breakangle.documents.renderers.page_html import page_html
from breakangle.documents.renderers.page_pdf import page_count, page_pdf
from breakangle.documents.renderers.page_text import page_text
from breakangle.documents.renderers.page_units import in_inches
from breakangle.documents.renderers.pictures import qr_svg
from breakangle.documents.sheets.bench_sheet import BenchSheet, bench_sheet_page
from breakangle.documents.sheets.buzz import buzz_words
from breakangle.documents.sheets.hand_back import HandBack, hand_back_page
from breakangle.documents.true_size.tiling import Paper
from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.estimate import Estimate
from breakangle.services.documents.hand_back.frozen import last_closing, stored_sheet
from breakangle.services.documents.hand_back.words import OPEN, Leaving, hand_back_of, owner_name
from breakangle.services.documents.pictures import Told, picture_sets, states_of
from breakangle.services.plans.standings import Standings, standings
from breakangle.services.plans.trip_drawing import trip_pictures
from breakangle.services.workers.queue import PAPERS
from breakangle.services.workshop.paper_heading import letterhead_of, paper_of
from breakangle.storage.records.records import InstrumentRecord, Visit
from breakangle.storage.records.store import Shop

CLOSED_SHEET = "hand-back"
SHEETS = (CLOSED_SHEET, "bench")
MOST_PAGES = 2
SMALL_MM = 22.0  # how tall a photograph is where there is little room; chosen


def sheet_pages(
    shop: Shop,
    visit: Visit,
    sheet: str = "hand-back",
    address: str = "",
    pictures: bool = True,
    leaving: Leaving = OPEN,
    on_paper: bool = True,
    inch: bool = False,
) -> Iterator[Page]:
    """Yield a sheet of the visit as plain data, with all its pictures first, then with ever fewer, at last none.

    Args:
        shop: the shop.
        visit: whose sheet it is.
        sheet: `hand-back` or `bench`.
        address: of the instrument's page, for the code on the sheet; none without it.
        pictures: whether the hand-back sheet carries its pictures.
        leaving: what was written as it goes back.
        on_paper: whether two sides of paper bound it.
        inch: whether drawings are in inches; what is written, `in_inches` changes.

    Raises:
        CorrectInputError: no such sheet.
        ReadAgainError: readings that no instrument fits.
    """
    if sheet not in SHEETS:
        raise CorrectInputError(
            tr('"{sheet}" is no sheet', sheet=sheet),
            tr("one of {sheets}", sheets=", ".join(SHEETS)),
            tr("choose one"),
        )
    found = standings(shop, visit)
    code = qr_svg(address) if address else ""
    if sheet == "bench":
        yield bench_sheet_page(_bench_sheet(shop, visit, found, code, address, inch))
        return
    given = hand_back_of(shop, visit, found, code, address, leaving)
    if pictures:
        states = states_of(_told(given, found))
        came = states[0].buzz if len(states) > 1 else None
        given = replace(given, buzz=buzz_words(came, states[-1].buzz, states[-1].hand, given.now))
        for one in picture_sets(states[-1], on_paper, inch):
            yield from _sizes(replace(given, pictures=one))
    yield from _sizes(given)


def _sizes(given: HandBack) -> Iterator[Page]:
    """Yield the sheet with its photographs as large as is usual, then small, then without a break between its pages."""
    yield hand_back_page(given)
    if given.photographs:
        small = (
            replace(photograph, picture=replace(photograph.picture, tall_mm=SMALL_MM))
            for photograph in given.photographs
        )
        given = replace(given, photographs=tuple(small))
        yield hand_back_page(given)
    yield hand_back_page(replace(given, apart=False))


def _told(given: HandBack, found: Standings) -> list[Told]:
    """Return the states the sheet may draw: the last, and before it how it came, where anything was done."""
    groups = given.standing.groups

    def told(service: Service, now: Estimate, said: str, after: bool) -> Told:
        sorts = frozenset(group.name for group in groups if group.judged(after))
        figures = (figure for group in groups for figure in group.figures)
        unread = frozenset((figure.group, figure.string) for figure in figures if not figure.judged(after))
        return Told(service, now, said, sorts, unread)

    states = [told(found.service, found.after, given.now, True)]
    return (
        [told(found.first, found.before, tr("as it came"), False), *states] if found.service.work else states
    )


def sheet_file(
    shop: Shop,
    visit: Visit,
    sheet: str = "hand-back",
    form: str = "pdf",
    on: str | None = None,
    address: str = "",
    pictures: bool = True,
    inch: bool = False,
) -> bytes:
    """Return a sheet of the visit as a file: `pdf`, `html`, or `txt` for a mail.

    On paper (`on`: a4 or letter; None: the shop's) it has as many pictures as two pages have room for. The owner's
    sheet of a closed visit is the one that was kept, to the byte, as it was closed. `inch`: lengths in inches.

    Raises:
        CorrectInputError: no such sheet, form or paper.
        ReadAgainError: readings that no instrument fits.
        InstallError: the typesetter is not installed.
    """
    refuse_form(form)
    if sheet == CLOSED_SHEET and visit.closed_at is not None:
        return stored_sheet(shop, last_closing(shop, visit), form)
    size = paper_of(shop, on)
    pages = sheet_pages(shop, visit, sheet, address, pictures, on_paper=form == "pdf", inch=inch)
    if inch:
        pages = map(in_inches, pages)
    if form == "html":
        return page_html(next(pages)).encode()
    if form == "txt":
        return page_text(next(pages)).encode()
    return fitting_pdf(pages, size)[0]


def fitting_pdf(pages: Iterator[Page], size: Paper) -> tuple[bytes, Page]:
    """Return the first of these pages that fits on two sides of paper as PDF, and that page; else the last.

    Raises:
        InstallError: the typesetter is not installed.
    """
    for page in pages:
        made = PAPERS.run(page_pdf, page, size), page
        if page_count(made[0]) <= MOST_PAGES:
            break
    return made


def sheet_name(visit: Visit, sheet: str = "hand-back", form: str = "pdf") -> str:
    """Return the file name of a sheet: it says the sheet's number and nothing of the owner."""
    return f"{sheet}-{visit.number:06d}.{form}"


def _bench_sheet(
    shop: Shop, visit: Visit, found: Standings, code: str, address: str, inch: bool
) -> BenchSheet:
    record = shop.get(InstrumentRecord, visit.instrument_id, deleted=True)
    return BenchSheet(
        letterhead=letterhead_of(shop),
        number=visit.number,
        owner=owner_name(shop, record),
        complaint=visit.complaint,
        came=visit.opened_at.astimezone().date(),
        service=found.service,
        plan=found.plan,
        code_svg=code,
        code_words=address,
        drawings=trip_pictures(found.service, found.after, found.plan, "inch" if inch else "mm"),
        board=found.after.board,
    )
