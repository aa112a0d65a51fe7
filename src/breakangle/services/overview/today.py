"""Today: the work by state, what is due soon, what is to be ordered, and when the last backup was made."""

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from breakangle.model.words.message import Message
from breakangle.model.words.speech import tr
from breakangle.reference.messages import words
from breakangle.services.history.drift import reason_of, reckon
from breakangle.services.overview.promises import promise_said, promised_by
from breakangle.storage.files.backup_listing import BACKUPS, backups
from breakangle.storage.records.due import coming
from breakangle.storage.records.records import Stock
from breakangle.storage.records.shelf import lying_low
from breakangle.storage.records.store import Shop
from breakangle.storage.records.worklist import Work, worklist
from breakangle.storage.schema.errors import ShopOutOfReachError

DAYS_AHEAD, DAYS_BACK, DAYS_SINCE_BACK = 30, 90, 7
MOST_DUE = 100
OLD_BACKUP = timedelta(days=2)  # common practice, no source
RECKONED_AT_ONCE = 3  # instruments; the rest follows with the next look, or with the daily round


@dataclass(frozen=True)
class DueSoon:
    """One thing that comes due: for which instrument, on which day (past: overdue), and why."""

    what: str
    instrument_id: str
    instrument: str
    on: date
    why: str


@dataclass(frozen=True)
class Today:
    """The shop as it stands on `day`: visits by state in the order of work, what is due, low stock, the last backup.

    The last backup is told by the clock of its moment, and is old where that is two days away, whichever way.
    `all_reckoned` is False while some instruments' due dates are still being worked out.
    """

    day: date
    work: Mapping[str, tuple[Work, ...]]
    due: tuple[DueSoon, ...]
    all_reckoned: bool
    to_order: tuple[Stock, ...]
    last_backup_at: datetime | None
    last_backup_old: bool

    @property
    def pressing(self) -> tuple[Work, ...]:
        """Return what was promised for today or before and is not ready, the longest overdue first."""
        return promised_by((work for works in self.work.values() for work in works), self.day)

    def promise(self, work: Work) -> Message | None:
        """Return what was promised of a visit, as it stands today."""
        return promise_said(work, self.day)


def today(shop: Shop, now: datetime) -> Today:
    """Return the shop as it stands at this moment.

    Of what is handed back the last seven days are shown; of what is due the coming 30 days and what is overdue by
    up to 90, but nothing of an instrument that is in the workshop anyway.

    Raises:
        ShopOutOfReachError: the records cannot be reached.
    """
    current = False
    with suppress(
        ShopOutOfReachError
    ):  # a full disk or a read-only folder: the day's list is shown all the same
        current = reckon(shop, RECKONED_AT_ONCE, idle=True)
    day = now.astimezone().date()
    with shop.reading() as connection:
        work = worklist(connection, now - timedelta(days=DAYS_SINCE_BACK))
        until, since = day + timedelta(days=DAYS_AHEAD), day - timedelta(days=DAYS_BACK)
        rows = coming(connection, until, since, MOST_DUE, idle=True)
        low = lying_low(connection)
    soon = tuple(
        DueSoon(tr(what), key, name, on, words(reason_of(text))) for (key, what, on, text), name in rows
    )
    last = next(iter(backups(shop.folder / BACKUPS)), None)
    old = last is not None and abs(now - last.made_at) > OLD_BACKUP
    return Today(day, work, soon, current, low, last.made_at if last else None, old)
