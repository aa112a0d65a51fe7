"""The shops this server shows: the user's own, and the example workshop beside it, never mixed."""

import threading
from collections.abc import Callable
from pathlib import Path

from breakangle.model.words.speech import tr
from breakangle.services.records.copies_apart import backed_up_apart
from breakangle.services.workshop.opening import FILE_NAME, shop_at
from breakangle.storage.backup.keeper import Keeper
from breakangle.storage.connection.lease import Lease
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import NoSuchRecordError, ShopMissingError, ShopOutOfReachError

LONGEST_WAIT_S = 5.0  # as long as a file is waited for


class Workshop:
    """A shop that is opened when it is first asked for, and stays open while the server runs."""

    def __init__(self, folder: Path, database_url: str | None = None, example: bool = False) -> None:
        """Remember where the shop is; nothing is opened or made yet."""
        self.folder, self.database_url, self.example = folder, database_url, example
        self._lock, self._shop = threading.Lock(), None  # type: tuple[threading.Lock, Shop | None]
        self.lease: Lease | None = None
        self._identity = ""  # of the shop that was opened first
        self.keeper = Keeper(self.opened, make=backed_up_apart)

    @property
    def made(self) -> bool:
        """Return whether there is such a shop; the user's own is made when it is first opened."""
        return not self.example or self.folder.exists()

    def shop(self) -> Shop:
        """Return the open shop.

        Raises:
            NoSuchRecordError: the example workshop has not been made.
            ShopOutOfReachError: the records cannot be reached, or are being made, removed or put back for long.
        """
        if not self._lock.acquire(timeout=LONGEST_WAIT_S):
            raise ShopOutOfReachError(
                tr("the shop is just being put in place"),
                tr("nothing was stored"),
                tr("try again in a moment"),
            )
        try:
            if self._shop is None:
                if not self.made:
                    raise NoSuchRecordError(
                        tr("there is no example workshop"), "", tr("make it on the first page")
                    )
                self._still_there()
                self._shop = self._the_same(shop_at(self.folder, self.database_url))
                if self.lease is not None:
                    self._shop.may_write.append(self.lease.check)
            return self._shop
        finally:
            self._lock.release()

    def opened(self) -> Shop | None:
        """Return the shop if it has been asked for; None where there is none, or it is just being put in place."""
        return None if self.example else self.at_hand()

    def at_hand(self) -> Shop | None:
        """Return the open shop without waiting; None where it is not open, or just being put in place."""
        if not self._lock.acquire(blocking=False):
            return None
        try:
            return self._shop
        finally:
            self._lock.release()

    def lost(self) -> None:
        """Let go of records that are no longer those at their place; the next page opens what is there now."""
        with self._lock:
            self._let_go()

    def _let_go(self) -> None:
        if self._shop is not None:
            self._shop.close()
        self._shop = None

    def _still_there(self) -> None:
        """Make no new shop in the place of one that was open here and is gone."""
        path = self.folder / FILE_NAME
        if self._identity and self.database_url is None and not path.exists():
            given = tr(
                "the shop's file {path} is gone: its folder was deleted, renamed or taken away", path=path
            )
            raise ShopMissingError(given, "", tr("bring the folder back, or put a backup in its place"))

    def _the_same(self, shop: Shop) -> Shop:
        """Return the shop just opened if it is the one that was open here before."""
        if self._identity and shop.identity != self._identity:
            shop.close()
            given = tr("another shop lies in the place of the one that was open")
            raise ShopMissingError(
                given, "", tr("bring its folder back, or start the program again to use this one")
            )
        self._identity = shop.identity
        return shop

    def replaced(self, change: Callable[[], object]) -> None:
        """Close the shop, let `change` make, remove or restore its files, and open it anew when next asked for."""
        with self._lock:
            self._let_go()
            change()
            self._identity = ""

    def close(self) -> None:
        """Let go of the shop."""
        self.replaced(lambda: None)
