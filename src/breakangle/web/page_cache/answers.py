"""The middleware that answers a page as it was: only if every change acknowledged before the request is in it.

What the page shows has a mark that is read from the records at every request. A page is kept under the mark that was
read *before* it was made, so what is stored while it is made gives it another mark, and it is made again. Those who ask
for it meanwhile wait for one that is begun after they asked, whatever its mark: what was acknowledged by then is in it.
"""

import re
import time
from collections.abc import Mapping
from contextlib import suppress
from typing import Any
from weakref import WeakKeyDictionary

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import HTTPConnection
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from breakangle.model.errors import BreakangleError
from breakangle.storage.connection.glance import told
from breakangle.storage.connection.moment import one_moment
from breakangle.storage.records.store import Shop
from breakangle.web.page_cache.basis import Mark, mark_of, may_be_kept
from breakangle.web.page_cache.kept import Kept, KeptAnswers
from breakangle.web.page_cache.sent_key import KEPT_WITHOUT, KEY_LATER, with_sent_keys
from breakangle.web.page_cache.turns import Turns
from breakangle.web.visitor import VIEW_COOKIE
from breakangle.web.workshops import Workshop

# Whatever of a request a page may depend on beside its address.
TOLD_BY = ("host", "accept-language", "accept-encoding", "hx-request", "hx-target")
STATE = ("role", "device_name", "person")
ONE_BOX = re.compile(r"/visits/[0-9]+/readings/one")  # what is stored most often, and read before and after


class PageCache:
    """Answers of the workshops of a server."""

    def __init__(self, app: ASGIApp, workshops: Mapping[str, Workshop]) -> None:
        """Keep what makes the pages, and which workshop is under which root; the user's own under none."""
        self.app, self.workshops = app, workshops
        self.answers = WeakKeyDictionary[Shop, KeptAnswers]()
        self.turns = {id(workshop): Turns() for workshop in workshops.values()}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request from what is kept, or let it be made and keep it."""
        workshop, path = self._asked(scope)
        turns = self.turns[id(workshop)]
        if scope["type"] != "http" or scope["method"] != "GET" or not may_be_kept(path):
            if scope["type"] == "http" and ONE_BOX.fullmatch(path):
                async with turns.storing:
                    made = await self._made(scope, receive)
                await _sent(made.start, made.body, send)  # who is slow to take it holds nobody's turn
            else:
                await self.app(scope, receive, send)
            return
        asked_s = time.monotonic()
        marked = await self._mark(workshop, path)
        if marked is None:
            await self.app(scope, receive, send)
            return
        shop, mark = marked
        kept, key = self.answers.setdefault(shop, KeptAnswers()), _key(scope)
        answer = kept.get(key, mark)
        if answer is None:
            with kept.making(key) as lock:
                async with lock:
                    answer = kept.get(key, mark) or kept.made_since(key, asked_s)
                    if answer is None:
                        async with turns.to_make(path):
                            answer = await self._kept_anew(workshop, path, scope, receive, kept, key)
        await _sent(answer.start, with_sent_keys(answer.body), send)

    def _asked(self, scope: Scope) -> tuple[Workshop, str]:
        """Return the workshop that is asked, and the path in it."""
        path = str(scope.get("path", ""))
        for root, workshop in self.workshops.items():
            if root and path.startswith(f"{root}/"):
                return workshop, path.removeprefix(root)
        return self.workshops[""], path

    async def _mark(self, workshop: Workshop, path: str) -> tuple[Shop, Mark] | None:
        """Return the open shop and the mark of the page, seen at once where nothing has to be waited for."""
        with suppress(BreakangleError):  # the page says what is wrong
            shop = workshop.at_hand()
            if shop is not None:
                mark = mark_of(workshop, shop, path, Shop.glanced)
                if mark is not None:
                    return shop, mark
            return await run_in_threadpool(self._waited_for, workshop, path)
        return None

    def _waited_for(self, workshop: Workshop, path: str) -> tuple[Shop, Mark] | None:
        shop = workshop.shop()
        mark = mark_of(workshop, shop, path, _looked_up)
        return None if mark is None else (shop, mark)

    async def _kept_anew(
        self, workshop: Workshop, path: str, scope: Scope, receive: Receive, kept: KeptAnswers, key: Any
    ) -> Kept:
        """Return the page as it is made now, and keep it under its mark of now: this one may have waited long."""
        marked = await self._mark(workshop, path)
        answer = await self._made(scope, receive, () if marked is None else marked[1])
        if marked is not None and self.answers.get(marked[0]) is kept and answer.start["status"] == 200:
            kept.put(key, answer)
        return answer

    async def _of_one_moment(self, scope: Scope, receive: Receive, send: Send) -> None:
        with one_moment() as moment:
            try:
                await self.app(scope, receive, send)
            finally:
                if moment.waits:
                    await run_in_threadpool(moment.end)

    async def _made(self, scope: Scope, receive: Receive, mark: Mark = ()) -> Kept:
        """Return the answer as the app makes it, from records of one moment."""
        start, parts, begun_s = dict[str, Any](), list[bytes](), time.monotonic()

        async def collect(message: Message) -> None:
            if message["type"] == "http.response.start":
                start.update(message)
            else:
                parts.append(message.get("body", b""))

        if str(scope["path"]).endswith(KEPT_WITHOUT):
            scope = _unpacked(scope)
        await self._of_one_moment(scope, receive, collect)
        return Kept(mark, start, b"".join(parts), begun_s)


async def _sent(start: Message, body: bytes, send: Send) -> None:
    await send({**start, "headers": list(start["headers"])})
    await send({"type": "http.response.body", "body": body})


def _looked_up(shop: Shop, also: str, key: str | int) -> Mark:
    with shop.reading() as connection:
        return told(connection, also, key)


def _unpacked(scope: Scope) -> Scope:
    """Return a request that asks for its page not to be compressed: a key is put into it each time it is given out."""
    headers = [(name, value) for name, value in scope["headers"] if name != b"accept-encoding"]
    return {**scope, "headers": headers, KEY_LATER: True}


def _key(scope: Scope) -> tuple[Any, ...]:
    headers, state = Headers(scope=scope), scope.get("state", {})
    asked = scope["scheme"], scope["path"], scope["query_string"]
    by_whom = *(headers.get(name, "") for name in TOLD_BY), *(state.get(name, "") for name in STATE)
    return *asked, *by_whom, HTTPConnection(scope).cookies.get(VIEW_COOKIE, "")
