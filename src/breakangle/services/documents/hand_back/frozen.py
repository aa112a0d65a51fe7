"""What was kept when a visit was closed: the finished sheets to the byte, and what they say as data."""

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.storage.files.blobs import get_blob
from breakangle.storage.records.records import Closing, Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import NoSuchRecordError

FORMAT = "breakangle/closing/1"


@dataclass(frozen=True)
class Closed:
    """One closing as a page tells it: its number, when, why (empty the first time), who signed, and what it says.

    `figures` are rows of sort and unit, as it came, as it left, what was wanted; `asked` what stood open and the
    reason written; `work` what was done.
    """

    number: int
    at: datetime
    reason: str
    signed_by: str
    by: str
    pdf_hash: str
    figures: tuple[tuple[str, ...], ...]
    work: tuple[str, ...]
    asked: tuple[tuple[str, str], ...]


def closings_of(shop: Shop, visit: Visit) -> tuple[Closing, ...]:
    """Return every closing of the visit, the first one first."""
    return tuple(sorted(shop.every(Closing, visit_id=visit.id), key=lambda one: one.number))


def last_closing(shop: Shop, visit: Visit) -> Closing:
    """Return the last closing of the visit.

    Raises:
        NoSuchRecordError: it was never closed.
    """
    return closing_numbered(shop, visit, None)


def closing_numbered(shop: Shop, visit: Visit, number: int | None) -> Closing:
    """Return the closing of that number (None: the last).

    Raises:
        NoSuchRecordError: there is none.
    """
    found = [one for one in closings_of(shop, visit) if number in (None, one.number)]
    if not found:
        which = tr("no closing") if number is None else tr("no closing {number}", number=number)
        raise NoSuchRecordError(
            tr("sheet {visit_number} has {which}", visit_number=visit.number, which=which),
            "",
            tr("look at the sheet as it is now"),
        )
    return found[-1]


def stored_sheet(shop: Shop, closing: Closing, form: str = "pdf") -> bytes:
    """Return the sheet as it was kept: `pdf`, `html`, or `txt`, the same to the byte each time.

    Raises:
        CorrectInputError: no such form.
        ShopDamagedError: it is missing or damaged.
    """
    if form == "txt":
        return str(json.loads(closing.body)["text"]).encode()
    hashes = {"pdf": closing.pdf_hash, "html": closing.html_hash}
    if form not in hashes:
        raise CorrectInputError(
            tr('"{form}" is not a form of a sheet', form=form), tr("one of pdf, html, txt"), tr("choose one")
        )
    return get_blob(shop.folder, hashes[form])


def closed_told(shop: Shop, visit: Visit) -> tuple[Closed, ...]:
    """Return every closing of the visit as a page tells it, the last one first."""
    return tuple(_told(one) for one in reversed(closings_of(shop, visit)))


def _told(one: Closing) -> Closed:
    body: dict[str, Any] = json.loads(one.body)
    return Closed(
        one.number,
        one.created_at,
        one.reason,
        one.signed_by,
        one.created_by,
        one.pdf_hash,
        tuple(tuple(row) for row in body["figures"]),
        tuple(body["work"]),
        tuple((row["question"], row["reason"]) for row in body["asked"]),
    )
