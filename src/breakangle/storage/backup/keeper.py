"""The keeper: it sees to it that there is a good backup, in every program that runs for long.

No command has to be typed for a backup, and none hangs on a clock being right: what is due is told by how much was
changed, by how long the program has run, and by the day being another one than that of the last backup.
"""

import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import func, select

from breakangle.model.errors import BreakangleError
from breakangle.storage.backup.copies import Backup, make_backup
from breakangle.storage.files.backup_listing import BACKUPS, Listed, backups, restored_after, rotate
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.tables import CHANGE, EDITED, ENTRY, METADATA

# When a backup is due: common practice, no source.
MOST_CHANGES, MOST_RUNNING_S, LOOK_EVERY_S = 200, 4 * 3600.0, 30.0
# Rows that are only ever added, so that their number tells how much was written.
GROWING = tuple(sorted((ENTRY.name, CHANGE.name, *EDITED)))
Clock = Callable[[], datetime]
Made = Callable[[Shop, datetime], Backup]


@dataclass(frozen=True)
class Standing:
    """How the backups of a shop stand: the newest, how much was written since, and whether the records are older."""

    last: Listed | None
    changes: int
    older: bool

    @property
    def any_work(self) -> bool:
        """Return whether there is anything in the shop that no backup holds."""
        return self.changes > 0


def standing(shop: Shop) -> Standing:
    """Return how the shop's backups stand.

    `older` is true where the records hold less than the newest backup of the same shop: an older file may have been
    put in their place. Backups from before a restore do not count: that was meant.

    Raises:
        ShopOutOfReachError: the records cannot be reached.
    """
    now = written(shop)
    last = next(iter(backups(shop.folder / BACKUPS)), None)
    before = grown(last.counts) if last is not None else 0
    older = (
        last is not None
        and now < before
        and last.shop in ("", shop.identity)
        and last.sequence > restored_after(shop.folder / BACKUPS)
    )
    return Standing(last, abs(now - before), older)


def written(shop: Shop) -> int:
    """Return how many rows of what people wrote the shop holds."""
    with shop.reading() as connection:
        return sum(
            int(connection.execute(select(func.count()).select_from(METADATA.tables[name])).scalar_one())
            for name in GROWING
        )


def grown(counts: Mapping[str, int]) -> int:
    """Return how many of the rows counted are of what people wrote."""
    return sum(counts.get(name, 0) for name in GROWING)


def due(stand: Standing, now: datetime, running_s: float | None = None, first: bool = False) -> bool:
    """Return whether a backup is to be made now.

    Never of records that hold less than the last backup: what it would push out may be all that is left.

    Args:
        stand: how the backups stand.
        now: this moment, by a clock that may be wrong.
        running_s: seconds that this program has run since it last made a backup; None where it is one command.
        first: whether this program, which runs for long, has made none yet, so that any change is enough.
    """
    if stand.older:
        return False
    if stand.last is None:
        return stand.any_work
    if stand.last.made_at.astimezone().date() != now.astimezone().date():
        return True
    long_ago = running_s is not None and running_s >= MOST_RUNNING_S
    return stand.any_work and (first or long_ago or stand.changes >= MOST_CHANGES)


def kept_in_time(shop: Shop, now: datetime) -> Backup | None:
    """Make a backup if one is due while a single command runs, let go of old ones, and return it; else None.

    Raises:
        ShopOutOfReachError: the disk is full, the folder cannot be written, or the records cannot be reached.
        ShopDamagedError: the records are damaged.
    """
    return backed_up(shop, now) if due(standing(shop), now) else None


def backed_up(shop: Shop, now: datetime) -> Backup:
    """Make a backup, let go of old ones, and return it.

    Raises:
        ShopOutOfReachError: the disk is full, the folder cannot be written, or the records cannot be reached.
        ShopDamagedError: the records are damaged.
    """
    made = make_backup(shop, now)
    rotate(shop.folder / BACKUPS)
    return made


class Keeper:
    """Looks every half a minute, in a thread of its own, whether a backup is due; a failure is told, not raised."""

    def __init__(
        self,
        shop: Callable[[], Shop | None],
        clock: Clock = lambda: datetime.now(UTC),
        make: Made = backed_up,
    ) -> None:
        """Remember where the shop is had from (None: nobody has opened it yet), the clock, and what makes a backup."""
        self._shop, self._clock, self._make = shop, clock, make
        self._stop, self._thread = threading.Event(), threading.Thread(target=self._run, daemon=True)
        self._last_at: float | None = None
        self._began = time.monotonic()
        self.trouble, self.older = "", False

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def stop(self) -> None:
        """Look a last time, and end: the day's work is kept before the program goes."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join()

    def look(self) -> Backup | None:
        """Make a backup if one is due, and return it; what stood in the way is kept in `trouble`."""
        since = self._last_at if self._last_at is not None else self._began
        try:
            shop = self._shop()
            if shop is None:
                return None
            stand, now = standing(shop), self._clock()
            self.older = stand.older
            if not due(stand, now, time.monotonic() - since, first=self._last_at is None):
                return None
            made = self._make(shop, now)
        except BreakangleError as error:
            self.trouble = str(error)
            return None
        self.trouble, self._last_at = "", time.monotonic()
        return made

    def _run(self) -> None:
        while not self._stop.wait(LOOK_EVERY_S):
            self.look()
        self.look()
