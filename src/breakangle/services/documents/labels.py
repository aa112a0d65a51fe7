"""Labels for cases and neck pockets: settings, and a code that tells a stranger nothing."""

import json
from collections.abc import Sequence
from datetime import datetime

from breakangle.documents.labels.label import Label, courses_words, label_settings, labels_pdf
from breakangle.documents.renderers.page_units import length_in_inches
from breakangle.documents.renderers.pictures import qr_svg
from breakangle.documents.sheets.standing import standing_of
from breakangle.model.identity_marks import SERIAL_NUMBER, SHOP_TAG, identity_marks
from breakangle.model.words.speech import mark, tr
from breakangle.services.plans.standings import standings
from breakangle.services.visits.parsed_sheets import ADJUSTMENT
from breakangle.services.workshop.paper_heading import paper_of
from breakangle.storage.records.records import InstrumentRecord, Visit
from breakangle.storage.records.standing_entries import standing_entries
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import from_utc_text

SCHEME = "breakangle:"
SET_UP, TAKEN_IN = mark("Set up"), mark("Taken in")


def code_content(visit: Visit, base: str = "") -> str:
    """Return what the code of a visit's instrument holds: `base`, an address up to where the name goes, and its name.

    The name is made from a time and chance, and is of no use to anybody without the shop's records.
    """
    return f"{base or SCHEME}{visit.instrument_id}"


def label_of(shop: Shop, visit: Visit, base: str = "", inch: bool = False) -> Label:
    """Return the label of an instrument as a visit left it.

    Args:
        shop: the shop.
        visit: the visit whose settings it carries.
        base: what comes before the instrument's name in the code, such as the address of its page.
        inch: whether lengths are in inches.

    Raises:
        ReadAgainError: readings that no instrument fits.
    """
    found = standings(shop, visit)
    tuning, strings = courses_words(found.service.instrument_now())
    settings = label_settings(standing_of(found.service, found.before, found.after))
    if inch:
        settings = tuple((name, length_in_inches(told)) for name, told in settings)
    day_of, day = _day(shop, visit)
    return Label(
        key=visit.instrument_id,
        day_of=day_of,
        day=day.astimezone().date(),
        tuning=tuning,
        strings=strings,
        settings=settings,
        code_svg=qr_svg(code_content(visit, base), quiet=2),
        note=_note(settings, visit.humidity_percent),
        mark=_mark(shop, visit),
    )


def _day(shop: Shop, visit: Visit) -> tuple[str, datetime]:
    """Return the day a label carries and what it is of: set up at hand-back, until then when it was last worked on."""
    if visit.handed_back_at is not None:
        return SET_UP, visit.handed_back_at
    with shop.reading() as connection:
        work = [entry.at for entry in standing_entries(connection, [visit.id]) if entry.kind == ADJUSTMENT]
    return (SET_UP, from_utc_text(max(work))) if work else (TAKEN_IN, visit.opened_at)


def _mark(shop: Shop, visit: Visit) -> str:
    """Return the shop's tag on the instrument, else its serial number; empty where neither is known."""
    marks = identity_marks(json.loads(shop.get(InstrumentRecord, visit.instrument_id, deleted=True).body))
    tag, serial = marks.get(SHOP_TAG), marks.get(SERIAL_NUMBER)
    return tr("Tag {tag}", tag=tag) if tag else tr("No. {serial}", serial=serial) if serial else ""


def _note(settings: Sequence[tuple[str, str]], humidity_percent: float | None) -> str:
    """Return how the settings above are to be read, where one has two figures, and the air."""
    said = [tr("low / high string")] if any(" / " in told for _, told in settings) else []
    said += (
        [tr("at {humidity_percent:.0f} % humidity", humidity_percent=humidity_percent)]
        if humidity_percent is not None
        else []
    )
    return ", ".join(said)


def labels_file(
    shop: Shop,
    visits: Sequence[Visit],
    on: str | None = None,
    base: str = "",
    single: bool = False,
    inch: bool = False,
) -> bytes:
    """Return the labels of visits as a PDF, two beside each other on `on` (a4, letter; None: the shop's paper).

    Args:
        shop: the shop.
        visits: whose settings.
        on: the paper.
        base: what comes before the instrument's name in the code.
        single: each label on a page of its own size (74 by 37 mm), for a label printer.
        inch: whether lengths are in inches.

    Raises:
        CorrectInputError: no visit, or no such paper.
        ReadAgainError: readings that no instrument fits.
        InstallError: the typesetter is not installed.
    """
    made = [label_of(shop, visit, base, inch) for visit in visits]
    return labels_pdf(made, None if single else paper_of(shop, on))
