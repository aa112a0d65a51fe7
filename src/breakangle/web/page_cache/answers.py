"""The middleware that answers a page as it was: only if every change acknowledged before the request is in it.

What the page shows has a mark that is read from the records at every request. A page is kept under the mark that was
read *before* it was made, so what is stored while it is made gives it another mark, and it is made again.
"""

from typing import Any
from weakref import WeakKeyDictionary

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import HTTPConnection
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from breakangle.model.errors import BreakangleError
from breakangle.storage.records.store import Shop
from breakangle.web.page_cache.basis import Mark, mark_of, may_be_kept
from breakangle.web.page_cache.kept import Kept, KeptAnswers
from breakangle.web.visitor import VIEW_COOKIE
from breakangle.web.workshops import Workshop

# Whatever of a request a page may depend on beside its address.
TOLD_BY = ("host", "accept-language", "accept-encoding", "hx-request", "hx-target")
STATE = ("role", "device_name")


class PageCache:
    """Answers of one workshop."""

    def __init__(self, app: ASGIApp, workshop: Workshop) -> None:
        """Keep what makes the pages, and of which workshop."""
        self.app, self.workshop = app, workshop
        self.answers = WeakKeyDictionary[Shop, KeptAnswers]()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request from what is kept, or let it be made and keep it."""
        path = _path_in_shop(scope)
        if scope["type"] != "http" or scope["method"] != "GET" or not may_be_kept(path):
            await self.app(scope, receive, send)
            return
        marked = await run_in_threadpool(self._mark, path)
        if marked is None:
            await self.app(scope, receive, send)
            return
        shop, mark = marked
        kept, key = self.answers.setdefault(shop, KeptAnswers()), _key(scope)
        with kept.making(key) as lock:
            async with lock:
                answer = kept.get(key, mark) or await self._made(scope, receive, mark)
                if answer.start["status"] == 200:
                    kept.put(key, answer)
        await send({**answer.start, "headers": list(answer.start["headers"])})
        await send({"type": "http.response.body", "body": answer.body})

    def _mark(self, path: str) -> tuple[Shop, Mark] | None:
        try:
            return mark_of(self.workshop, path)
        except BreakangleError:  # the page says what is wrong
            return None

    async def _made(self, scope: Scope, receive: Receive, mark: Mark) -> Kept:
        """Return the answer as the app makes it."""
        start, parts = dict[str, Any](), list[bytes]()

        async def collect(message: Message) -> None:
            if message["type"] == "http.response.start":
                start.update(message)
            else:
                parts.append(message.get("body", b""))

        await self.app(scope, receive, collect)
        return Kept(mark, start, b"".join(parts))


def _path_in_shop(scope: Scope) -> str:
    path, root = str(scope.get("path", "")), str(scope.get("root_path", ""))
    return path.removeprefix(root) if root else path


def _key(scope: Scope) -> tuple[Any, ...]:
    headers, state = Headers(scope=scope), scope.get("state", {})
    asked = scope["scheme"], scope["path"], scope["query_string"]
    by_whom = *(headers.get(name, "") for name in TOLD_BY), *(state.get(name, "") for name in STATE)
    return *asked, *by_whom, HTTPConnection(scope).cookies.get(VIEW_COOKIE, "")
