"""What each page that may be kept rests on, and the mark of that: another mark, another page."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from breakangle.storage.connection.changes import DUE, RECORDS
from breakangle.storage.connection.glance import OF_INSTRUMENT, OF_SHEET
from breakangle.storage.files.backup_listing import BACKUPS
from breakangle.storage.records.store import Shop
from breakangle.web.workshops import Workshop

Mark = tuple[Any, ...]
MOST_DIGITS = 10


@dataclass(frozen=True)
class Basis:
    """What pages of one kind rest on, beside the records: marks of entries, what is due, how the backups stand.

    `also` is what a glance looks at for the name in the address, `counters` which counters count.
    """

    address: re.Pattern[str]
    also: str = ""
    counters: tuple[str, ...] = (RECORDS,)
    backups: bool = False

    def mark(self, workshop: Workshop, shop: Shop, rows: Mark) -> Mark:
        """Return the mark, from what a glance told."""
        told = tuple(row for row in rows if row[2] or row[0] in self.counters)
        stand = _backups_stand(workshop, shop) if self.backups else ()
        return told, datetime.now().astimezone().date(), stand

    def key(self, name: str) -> str | int | None:
        """Return what the glance is told of the name in the address; None where no sheet has such a number."""
        if self.also != OF_SHEET:
            return name
        return int(name) if len(name) < MOST_DIGITS else None


def _backups_stand(workshop: Workshop, shop: Shop) -> Mark:
    try:
        backed_up = (shop.folder / BACKUPS).stat().st_mtime_ns
    except OSError:
        backed_up = 0
    return backed_up, workshop.keeper.trouble, workshop.keeper.older


PARTS = "summary|readings|readings/asked|entries|drawing|plan"
KEPT = (
    Basis(re.compile(r"/()"), counters=(RECORDS, DUE), backups=True),
    Basis(re.compile(r"/(?:instruments|search)()")),
    Basis(re.compile(r"/instruments/([0-9a-z]+)"), OF_INSTRUMENT),
    Basis(re.compile(rf"/visits/([0-9]+)(?:/(?:{PARTS}))?"), OF_SHEET),
)


def may_be_kept(path: str) -> bool:
    """Return whether a page of this address may be answered as it was."""
    return any(one.address.fullmatch(path) for one in KEPT)


Glanced = Callable[[Shop, str, str | int], Mark | None]


def mark_of(workshop: Workshop, shop: Shop, path: str, glanced: Glanced) -> Mark | None:
    """Return the mark of what a page shows, as stored by now; None where it may not be kept or cannot be seen.

    Args:
        workshop: whose pages.
        shop: its open shop.
        path: the page's address in the shop.
        glanced: looks at the shop's counters, and at what a name adds to them.

    Raises:
        BreakangleError: the shop cannot be reached.
    """
    for one in KEPT:
        found = one.address.fullmatch(path)
        key = None if found is None else one.key(found[1])
        if key is not None:
            rows = glanced(shop, one.also, key)
            return None if rows is None else one.mark(workshop, shop, rows)
    return None
