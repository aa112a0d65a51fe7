"""Turns: so many pages are made at a time, and one reading is stored at a time; those who wait hold no thread.

More at a time would not be sooner: Python works on one page at a time whatever the number of threads, and a file takes
one writer at a time, the others trying again and again in no order. Plans wait in a queue of their own.
"""

import asyncio
from contextlib import AbstractAsyncContextManager, nullcontext

from breakangle.web.page_cache.sent_key import KEPT_WITHOUT

PAGES_AT_ONCE = 3  # of which some may be waiting for a plan


class Turns:
    """The turns of one shop; all is done in the server's own loop."""

    def __init__(self) -> None:
        """Begin with nobody waiting."""
        self.storing = asyncio.Semaphore(1)
        self._pages = asyncio.Semaphore(PAGES_AT_ONCE)

    def to_make(self, path: str) -> AbstractAsyncContextManager[None]:
        """Return the turn in which a page of this address is made."""
        return nullcontext() if path.endswith(KEPT_WITHOUT) else self._pages
