"""The end of a line: a certificate for an instrument that is right, and what keeps another from it; one row each."""

from collections.abc import Mapping
from datetime import UTC, date, datetime
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any

from breakangle.fleet.items import SERVICES, Item
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import mark, tr

if TYPE_CHECKING:
    from breakangle.documents.renderers.page import Page

WORDS = mark("a certificate for each instrument that leaves right, and what keeps the others from one")
ENDINGS = SERVICES
COLUMNS = (
    (
        "passes",
        "bool",
        mark("whether every figure was read and is inside its tolerance, and nothing is asked or found"),
    ),
    ("verdict", "string", mark("of the plan: leave, adjust, read-first or beyond-setup")),
    ("outside", "list<string>", mark("each figure that is out of tolerance or not read, in words")),
    ("open", "list<string>", mark("what the plan asks or finds beside the figures, by its keys")),
    ("steps", "list<string>", mark("what is to be adjusted, in order")),
    ("pdf", "binary", mark("the certificate as PDF; none where it does not pass")),
)


def rows(item: Item, settings: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the instrument's row; `settings` name the day (`dated`) that the certificate says.

    They may name the `maker`, the `paper`, and `units`: with `in` its lengths are in inches.

    Raises:
        CorrectInputError: no day.
        BreakangleError: what planning one service raises.
        InstallError: the typesetter is not installed.
    """
    from breakangle.documents.renderers.page_units import in_inches, sentence_in_inches
    from breakangle.documents.sheets.certificate import Certificate, certificate_page, outside_words
    from breakangle.documents.sheets.standing import standing_of
    from breakangle.documents.sheets.words import day_words
    from breakangle.services.service_files.service import estimate_service, plan_service, service_from

    day = certified_day(settings.get("dated"))
    service, earlier = service_from(item.content, item.name), item.earlier_services()
    plan, now = plan_service(service, settings.get("hand"), earlier), estimate_service(service, earlier)
    standing = standing_of(service, now, now)
    outside, reasons = outside_words(standing), tuple(one.reason for one in plan.steps)
    open_ = [one.ask for one in plan.questions] + [one.finding for one in plan.findings]
    passes = plan.verdict == "leave" and not outside and not open_
    serial = PurePosixPath(item.name).stem
    page = certificate_page(
        Certificate(service, standing, serial, settings.get("maker") or "", day_words(day.date()))
    )
    if settings.get("units") == "in":
        page = in_inches(page)
        outside, reasons = (tuple(map(sentence_in_inches, some)) for some in (outside, reasons))
    return [
        {
            "passes": passes,
            "verdict": plan.verdict,
            "outside": list(outside),
            "open": open_,
            "steps": list(reasons),
            "pdf": _pdf(page, settings, day) if passes else None,
        }
    ]


def _pdf(page: "Page", settings: Mapping[str, Any], day: datetime) -> bytes:
    from breakangle.documents.renderers.page_pdf import page_pdf
    from breakangle.documents.true_size.tiling import paper_named

    return page_pdf(page, paper_named(settings.get("paper") or "a4"), max(0, int(day.timestamp())))


def certified_day(text: str | None) -> datetime:
    """Return noon of the day that certificates say: the same instrument is the same certificate whenever it is made."""
    try:
        day = date.fromisoformat(text or "")
    except ValueError as cause:
        given = tr("{text!r} is no day", text=text) if text else tr("no day is named")
        raise CorrectInputError(
            given, tr("the day certificates are made out on"), tr("such as --dated 2026-11-30")
        ) from cause
    return datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
