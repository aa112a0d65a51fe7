"""Sheets of a visit, as a page, a PDF, a web page or the text of a mail: what both doors ask for."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date

from breakangle.desk.report_heading import letterhead_of, paper_of
from breakangle.desk.report_pictures import Told, picture_sets, states_of
from breakangle.desk.service import some_instrument_fits
from breakangle.desk.shop_drift import due_for, room_by_month, season_figures
from breakangle.desk.shop_prices import Bill, bill
from breakangle.desk.solved import believed_before, solved_visit
from breakangle.model.errors import CorrectInputError
from breakangle.model.plan import Plan
from breakangle.model.service import Service
from breakangle.planning.estimate import Estimate, estimate
from breakangle.report.bench_sheet import BenchSheet, bench_sheet_page
from breakangle.report.found import buzz_words
from breakangle.report.hand_back import HandBack, hand_back_page
from breakangle.report.page import Page
from breakangle.report.page_html import page_html
from breakangle.report.page_pdf import page_count, page_pdf
from breakangle.report.page_text import page_text
from breakangle.report.pictures import qr_svg
from breakangle.report.standing import as_it_came, standing_of
from breakangle.shop.errors import NoSuchRecordError
from breakangle.shop.records import InstrumentRecord, Owner, Visit
from breakangle.shop.store import Shop

SHEETS = ("hand-back", "bench")
FORMS = {"pdf": "application/pdf", "html": "text/html; charset=utf-8", "txt": "text/plain; charset=utf-8"}
BEYOND, PROUD = "Beyond a set-up: ", "The crown of fret "
MOST_PAGES = 2


@dataclass(frozen=True)
class Standings:
    """A visit worked out: its service, its states before and after the work, and what a plan still says."""

    service: Service
    first: Service
    before: Estimate
    after: Estimate
    plan: Plan


def standings(shop: Shop, visit: Visit) -> Standings:
    """Return the visit worked out, before and after, from all that the shop knows of this neck.

    Raises:
        ReadAgainError: readings that no instrument fits.
    """
    found = solved_visit(shop, visit.id)
    first = as_it_came(found.service)
    before = found.estimate
    if first != found.service:
        with some_instrument_fits():
            before = estimate(first, prior=believed_before(shop, visit.id, found.service))
    return Standings(found.service, first, before, found.estimate, found.plan)


def sheet_pages(
    shop: Shop, visit: Visit, sheet: str = "hand-back", address: str = "", pictures: bool = True
) -> Iterator[Page]:
    """Yield a sheet of the visit as plain data, with all its pictures first, then with ever fewer, at last none.

    Args:
        shop: the shop.
        visit: whose sheet it is.
        sheet: `hand-back` or `bench`.
        address: of the instrument's page, for the code on the sheet; none without it.
        pictures: whether the hand-back sheet carries its pictures.

    Raises:
        CorrectInputError: no such sheet.
        ReadAgainError: readings that no instrument fits.
    """
    if sheet not in SHEETS:
        raise CorrectInputError(f'"{sheet}" is no sheet', f"one of {', '.join(SHEETS)}", "choose one")
    found = standings(shop, visit)
    code = qr_svg(address) if address else ""
    if sheet == "bench":
        yield bench_sheet_page(_bench_sheet(shop, visit, found, code, address))
        return
    given = _hand_back(shop, visit, found, code, address)
    if pictures:
        states = states_of(_told(given, found))
        came = states[0].buzz if len(states) > 1 else None
        given = replace(given, buzz=buzz_words(came, states[-1].buzz, states[-1].hand, given.now))
        for one in picture_sets(states):
            yield hand_back_page(replace(given, pictures=one))
    yield hand_back_page(given)


def _told(given: HandBack, found: Standings) -> list[Told]:
    """Return the states the sheet may draw: the last, and before it how it came, where anything was done."""
    groups = given.standing.groups

    def told(service: Service, now: Estimate, said: str, after: bool) -> Told:
        sorts = frozenset(one.name for one in groups if one.judged(after))
        figures = (one for each in groups for one in each.figures)
        unread = frozenset((one.group, one.string) for one in figures if not one.judged(after))
        return Told(service, now, said, sorts, unread)

    states = [told(found.service, found.after, given.now, True)]
    return [told(found.first, found.before, "as it came", False), *states] if found.service.work else states


def sheet_page(
    shop: Shop, visit: Visit, sheet: str = "hand-back", address: str = "", pictures: bool = True
) -> Page:
    """Return a sheet of the visit as plain data, with all its pictures, for any renderer; as `sheet_pages`.

    Raises:
        CorrectInputError: no such sheet.
        ReadAgainError: readings that no instrument fits.
    """
    return next(sheet_pages(shop, visit, sheet, address, pictures))


def sheet_file(
    shop: Shop,
    visit: Visit,
    sheet: str = "hand-back",
    form: str = "pdf",
    on: str | None = None,
    address: str = "",
    pictures: bool = True,
) -> bytes:
    """Return a sheet of the visit as a file: `pdf`, `html`, or `txt` for a mail.

    On paper (`on`: a4 or letter; None: the shop's) it has as many pictures as two pages have room for.

    Raises:
        CorrectInputError: no such sheet, form or paper.
        ReadAgainError: readings that no instrument fits.
        InstallError: the typesetter or its fonts are not installed.
    """
    if form not in FORMS:
        raise CorrectInputError(f'"{form}" is no form of a sheet', f"one of {', '.join(FORMS)}", "choose one")
    size, pages = paper_of(shop, on), sheet_pages(shop, visit, sheet, address, pictures)
    if form == "html":
        return page_html(next(pages)).encode()
    if form == "txt":
        return page_text(next(pages)).encode()
    made = b""
    for page in pages:
        made = page_pdf(page, size)
        if page_count(made) <= MOST_PAGES:
            break
    return made


def sheet_name(visit: Visit, sheet: str = "hand-back", form: str = "pdf") -> str:
    """Return the file name of a sheet: it says the sheet's number and nothing of the owner."""
    return f"{sheet}-{visit.number:06d}.{form}"


def _hand_back(shop: Shop, visit: Visit, found: Standings, code: str, address: str) -> HandBack:
    record = shop.get(InstrumentRecord, visit.instrument_id, deleted=True)
    came = visit.opened_at.astimezone().date()
    left = visit.handed_back_at.astimezone().date() if visit.handed_back_at else None
    since = record.strings_changed_at
    return HandBack(
        letterhead=letterhead_of(shop),
        number=visit.number,
        owner=_owner(shop, record),
        complaint=visit.complaint,
        came=came,
        left=left,
        service=found.service,
        standing=standing_of(found.service, found.before, found.after),
        beyond=tuple(one for one in found.plan.notes if one.startswith(BEYOND)),
        watch=tuple(one for one in found.plan.notes if one.startswith(PROUD)),
        coming_back=_coming_back(shop, record, left or came),
        price=price_lines(bill(shop, visit)),
        price_note=_tax_words(bill(shop, visit)),
        strings_since=since.astimezone().date() if since else None,
        notes=visit.notes,
        code_svg=code,
        code_words=address,
    )


def _owner(shop: Shop, record: InstrumentRecord) -> str:
    if record.owner_id is None:
        return ""
    try:
        return shop.get(Owner, record.owner_id).name
    except NoSuchRecordError:
        return ""


def _coming_back(shop: Shop, record: InstrumentRecord, after: date) -> tuple[tuple[str, date, str], ...]:
    found = due_for(record, room_by_month(shop), season_figures(shop, record.id))
    return tuple((one.what, one.on, one.why) for one in found if one.on > after)


def price_lines(found: Bill) -> tuple[tuple[str, str], ...]:
    """Return a bill as lines of words and an amount, its sum last; nothing where nothing is on it."""
    if not found.lines:
        return ()
    rows = [
        (one.words if one.quantity == 1 else f"{one.quantity:f} × {one.words}", f"{amount:,f}")
        for one, amount in found.lines
    ]
    return (*rows, ("To pay", f"{found.total:,f} {found.currency}"))


def _tax_words(found: Bill) -> str:
    if not found.lines or not found.tax_percent:
        return ""
    return f"The sum holds {found.tax:,f} {found.currency} of tax ({found.tax_percent:f} %)."


def _bench_sheet(shop: Shop, visit: Visit, found: Standings, code: str, address: str) -> BenchSheet:
    record = shop.get(InstrumentRecord, visit.instrument_id, deleted=True)
    return BenchSheet(
        letterhead=letterhead_of(shop),
        number=visit.number,
        owner=_owner(shop, record),
        complaint=visit.complaint,
        came=visit.opened_at.astimezone().date(),
        service=found.service,
        plan=found.plan,
        code_svg=code,
        code_words=address,
    )
