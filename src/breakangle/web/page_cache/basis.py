"""What each page that may be kept rests on, and the mark of that: another mark, another page."""

import re
from collections.abc import Callable
from datetime import datetime
from typing import Any

from breakangle.storage.connection.changes import DUE, RECORDS, changes
from breakangle.storage.files.backup_listing import BACKUPS
from breakangle.storage.records.marks import instrument_marks, instrument_of_sheet
from breakangle.storage.records.store import Shop, Writing
from breakangle.web.workshops import Workshop

Mark = tuple[Any, ...]
Basis = Callable[[Writing, Workshop, Shop, str], Mark | None]


def _of_today(connection: Writing, workshop: Workshop, shop: Shop, name: str) -> Mark:
    """Return the mark of the day's list: the records, what is due, and how the backups stand."""
    del connection, name
    try:
        backed_up: float = (shop.folder / BACKUPS).stat().st_mtime_ns
    except OSError:
        backed_up = 0
    return backed_up, workshop.keeper.trouble, workshop.keeper.older


def _of_records(connection: Writing, workshop: Workshop, shop: Shop, name: str) -> Mark:
    """Return the mark of a list that shows records only."""
    del connection, workshop, shop, name
    return ()


def _of_sheet(connection: Writing, workshop: Workshop, shop: Shop, name: str) -> Mark | None:
    """Return the mark of a page about one sheet: the entries of all visits of its instrument."""
    instrument = instrument_of_sheet(connection, int(name)) if len(name) < MOST_DIGITS else None
    return None if instrument is None else _of_instrument(connection, workshop, shop, instrument)


def _of_instrument(connection: Writing, workshop: Workshop, shop: Shop, name: str) -> Mark:
    """Return the mark of a page about one instrument."""
    del workshop, shop
    return instrument_marks(connection, name)


MOST_DIGITS = 10
# Only pages that give out no key of their own for what is sent from them.
KEPT: tuple[tuple[re.Pattern[str], Basis, str], ...] = (
    (re.compile(r"/()"), _of_today, DUE),
    (re.compile(r"/(?:instruments|search)()"), _of_records, RECORDS),
    (re.compile(r"/instruments/([0-9a-z]+)"), _of_instrument, RECORDS),
    (re.compile(r"/visits/([0-9]+)(?:/(?:summary|readings|entries|drawing))?"), _of_sheet, RECORDS),
)


def may_be_kept(path: str) -> bool:
    """Return whether a page of this address may be answered as it was."""
    return any(pattern.fullmatch(path) for pattern, _, _ in KEPT)


def mark_of(workshop: Workshop, path: str) -> tuple[Shop, Mark] | None:
    """Return the open shop and the mark of what a page shows, as stored by now; None where it may not be kept.

    Raises:
        BreakangleError: the shop cannot be reached.
    """
    for pattern, basis, also in KEPT:
        found = pattern.fullmatch(path)
        if found is not None:
            shop = workshop.shop()
            with shop.reading() as connection:
                count = changes(connection)
                own = basis(connection, workshop, shop, found[1])
            day = datetime.now().astimezone().date()
            return None if own is None else (shop, (count[RECORDS], count[also], day, own))
    return None
