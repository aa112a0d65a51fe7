"""The shops this server shows: the user's own, and the example workshop beside it, never mixed."""

import threading
from collections.abc import Callable
from pathlib import Path

from breakangle.desk.shop_open import shop_at
from breakangle.shop.errors import NoSuchRecordError, ShopOutOfReachError
from breakangle.shop.store import Shop

LONGEST_WAIT_S = 5.0  # as long as a file is waited for


class Workshop:
    """A shop that is opened when it is first asked for, and stays open while the server runs."""

    def __init__(self, folder: Path, database_url: str | None = None, example: bool = False) -> None:
        """Remember where the shop is; nothing is opened or made yet."""
        self.folder, self.database_url, self.example = folder, database_url, example
        self._lock, self._shop = threading.Lock(), None  # type: tuple[threading.Lock, Shop | None]

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
                "the shop is just being put in place", "nothing was stored", "try again in a moment"
            )
        try:
            if self._shop is None:
                if not self.made:
                    raise NoSuchRecordError("there is no example workshop", "", "make it on the first page")
                self._shop = shop_at(self.folder, self.database_url)
            return self._shop
        finally:
            self._lock.release()

    def replaced(self, change: Callable[[], object]) -> None:
        """Close the shop, let `change` make, remove or restore its files, and open it anew when next asked for."""
        with self._lock:
            if self._shop is not None:
                self._shop.close()
            self._shop = None
            change()

    def close(self) -> None:
        """Let go of the shop."""
        self.replaced(lambda: None)
