"""What the owner's sheet says of a visit, drawn together from the records and the judgement."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from breakangle.documents.sheets.hand_back import HandBack
from breakangle.documents.sheets.left import Reasons
from breakangle.documents.sheets.standing import Standing, standing_of
from breakangle.model.plan import Plan
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.planning.explain.remarks import BEYOND
from breakangle.planning.solve.gate import HOLDS_FROM
from breakangle.planning.verdict.judgement import Judgement
from breakangle.planning.verdict.said import finding_messages
from breakangle.reference.messages import words
from breakangle.services.documents.hand_back.photographs import photographs_of
from breakangle.services.documents.pictures import HEIGHTS
from breakangle.services.history.drift import due_for, room_by_month, season_figures
from breakangle.services.plans.standings import Standings
from breakangle.services.workshop.paper_heading import letterhead_of
from breakangle.services.workshop.prices import Bill, bill
from breakangle.storage.records.records import InstrumentRecord, Owner, Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import NoSuchRecordError


@dataclass(frozen=True)
class Leaving:
    """What was written as an instrument goes back: when, who signed, and why figures stay out, by their sort.

    `asked`: what else stood open, and the reason written. `amended`: day and reason of each amendment so far.
    """

    at: datetime | None = None
    signed: str = ""
    written: Mapping[str, str] = field(default_factory=dict)
    asked: tuple[tuple[str, str], ...] = ()
    amended: tuple[tuple[date, str], ...] = ()


OPEN = Leaving()


def hand_back_of(
    shop: Shop, visit: Visit, found: Standings, code: str = "", address: str = "", leaving: Leaving = OPEN
) -> HandBack:
    """Return everything that the owner's sheet says of the visit; `leaving` is what was written as it goes back."""
    record = shop.get(InstrumentRecord, visit.instrument_id, deleted=True)
    came = visit.opened_at.astimezone().date()
    left_at = visit.handed_back_at or leaving.at
    left = left_at.astimezone().date() if left_at else None
    since = record.strings_changed_at
    standing = standing_of(found.service, found.before, found.after, found.declined)
    return HandBack(
        letterhead=letterhead_of(shop),
        number=visit.number,
        owner=owner_name(shop, record),
        complaint=visit.complaint,
        came=came,
        left=left,
        service=found.service,
        standing=standing,
        reasons=reasons_of(found, leaving.written),
        declined=found.declined,
        watch=tuple(words(one) for one in finding_messages(found.judgement)),
        needed_nothing=_all_heights(standing, after=True) and found.judgement.needed_nothing(),
        came_clear=_clear(found.came, standing, after=False),
        clear=_clear(found.judgement, standing, after=True),
        coming_back=_coming_back(shop, record, visit, left or came),
        price=price_lines(bill(shop, visit)),
        price_note=_tax_words(bill(shop, visit)),
        strings_since=since.astimezone().date() if since else None,
        promised=date.fromisoformat(visit.promised_on) if visit.promised_on else None,
        owner_words=visit.owner_words or "",
        asked=leaving.asked,
        signed=leaving.signed,
        amended=leaving.amended,
        photographs=photographs_of(shop, visit),
        code_svg=code,
        code_words=address,
    )


def reasons_of(found: Standings, written: Mapping[str, str] | None = None) -> Reasons:
    """Return why figures stay out: what the planner and the findings say, and what the bench wrote."""
    return Reasons(
        beyond=found.plan.notes_of(BEYOND),
        held=("action",) if _cuts_held(found.plan, found.service) else (),
        written=written or {},
    )


def _all_heights(standing: Standing, after: bool) -> bool:
    """Return whether relief and action are known, so that whether notes touch can be told."""
    known = {group.name for group in standing.groups if group.judged(after)}
    return known >= HEIGHTS


def _cuts_held(plan: Plan, service: Service) -> bool:
    """Return whether the saddle is only lowered by cutting it, and what was found in the readings forbids that."""
    one_piece = service.instrument_now().bridge.kind == "one-piece"
    return one_piece and any(
        finding.holds_cuts and finding.probability >= HOLDS_FROM for finding in plan.findings
    )


def _clear(judged: Judgement, standing: Standing, after: bool) -> bool:
    """Return whether nothing was found beside the figures, no note that touches among it."""
    return judged.nothing_wrong and not (_all_heights(standing, after) and judged.touching().heard)


def owner_name(shop: Shop, record: InstrumentRecord) -> str:
    """Return the name of the instrument's owner; empty where there is none."""
    if record.owner_id is None:
        return ""
    try:
        return shop.get(Owner, record.owner_id).name
    except NoSuchRecordError:
        return ""


def _coming_back(
    shop: Shop, record: InstrumentRecord, visit: Visit, after: date
) -> tuple[tuple[str, date, str], ...]:
    """Return what comes due after the visit; nothing where the instrument has been back since: that visit tells it."""
    figures = season_figures(shop, record.id)
    if any(one.opened_at > visit.opened_at for one in figures):
        return ()
    found = due_for(record, room_by_month(shop), figures)
    return tuple((tr(one.what), one.on, one.why) for one in found if one.on > after)


def price_lines(found: Bill) -> tuple[tuple[str, str], ...]:
    """Return a bill as lines of words and an amount, its sum last; nothing where nothing is on it."""
    if not found.lines:
        return ()
    rows = [
        (one.words if one.quantity == 1 else f"{one.quantity:f} × {one.words}", f"{amount:,f}")
        for one, amount in found.lines
    ]
    return (*rows, (tr("To pay"), f"{found.total:,f} {found.currency}"))


def _tax_words(found: Bill) -> str:
    if not found.lines or not found.tax_percent:
        return ""
    return tr(
        "The sum holds {tax:,f} {currency} of tax ({tax_percent:f} %).",
        tax=found.tax,
        currency=found.currency,
        tax_percent=found.tax_percent,
    )
