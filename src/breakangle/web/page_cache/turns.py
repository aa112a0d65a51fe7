"""Turns: so many pages are made and so many readings stored at a time; those who wait hold no thread.

More at a time would not be sooner: Python works on one page at a time whatever the number of threads. Plans wait in a
queue of their own.
"""

import asyncio
from contextlib import AbstractAsyncContextManager, nullcontext

from breakangle.web.page_cache.sent_key import KEPT_WITHOUT

PAGES_AT_ONCE = 3  # of which some may be waiting for a plan
STORED_AT_ONCE = (
    2  # most of the time goes into what is expected, worked out before and after; one alone piles them up
)


class Turns:
    """The turns of one shop; all is done in the server's own loop."""

    def __init__(self) -> None:
        """Begin with nobody waiting."""
        self.storing = asyncio.Semaphore(STORED_AT_ONCE)
        self._pages = asyncio.Semaphore(PAGES_AT_ONCE)

    def to_make(self, path: str) -> AbstractAsyncContextManager[None]:
        """Return the turn in which a page of this address is made."""
        return nullcontext() if path.endswith(KEPT_WITHOUT) else self._pages
