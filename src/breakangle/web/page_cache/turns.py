"""Turns: so many pages are made and so many readings stored at a time; those who wait hold no thread.

More at a time would not be sooner: Python works on one page at a time whatever the number of threads. Plans wait in a
queue of their own, and the pages that may wait for one have turns of their own, so that no other page waits with them.
"""

import asyncio
import re
from contextlib import AbstractAsyncContextManager, nullcontext

from breakangle.web.page_cache.sent_key import KEPT_WITHOUT

PAGES_AT_ONCE = 3
# As many as have a turn at plans, so that one page whose plan is known can go by those that wait for theirs.
WITH_PLANS_AT_ONCE = 6
STORED_AT_ONCE = (
    2  # most of the time goes into what is expected, worked out before and after; one alone piles them up
)
WAITS_FOR_A_PLAN = re.compile(r"/visits/[0-9]+/(?:summary|readings|readings/asked|drawing)")


class Turns:
    """The turns of one shop; all is done in the server's own loop."""

    def __init__(self) -> None:
        """Begin with nobody waiting."""
        self.storing = asyncio.Semaphore(STORED_AT_ONCE)
        self._pages = asyncio.Semaphore(PAGES_AT_ONCE)
        self._with_plans = asyncio.Semaphore(WITH_PLANS_AT_ONCE)

    def to_make(self, path: str) -> AbstractAsyncContextManager[None]:
        """Return the turn in which a page of this address in its shop is made."""
        if path.endswith(KEPT_WITHOUT):
            return nullcontext()
        return self._with_plans if WAITS_FOR_A_PLAN.fullmatch(path) else self._pages
