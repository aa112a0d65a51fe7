"""Turns of pages and of what is stored: who waits for something else, or is slow to take an answer, holds nobody's."""

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any

import pytest

from breakangle.web.page_cache.answers import PageCache

WITHIN_S = 5.0
START = {"type": "http.response.start", "status": 200, "headers": []}
BODY = {"type": "http.response.body", "body": b"stored"}


class Whose:
    """A workshop whose shop is asked nothing."""


def asked(method: str, path: str) -> dict[str, Any]:
    return {
        "type": "http",
        "method": method,
        "path": path,
        "scheme": "http",
        "query_string": b"",
        "headers": [],
    }


def made_with(app: Any, monkeypatch: pytest.MonkeyPatch) -> PageCache:
    """Return turns around an app; every page has the same mark, and none is kept yet."""
    shop = Whose()

    async def marked(*_: object) -> tuple[Whose, tuple[()]]:
        return shop, ()

    monkeypatch.setattr(PageCache, "_mark", marked)
    return PageCache(app, {"": Whose()})  # type: ignore[dict-item]


async def nothing(*_: object) -> None:
    return


def taken() -> tuple[list[Any], Callable[[Any], Awaitable[None]]]:
    """Return what somebody takes of an answer, and how they take it."""
    parts: list[Any] = []

    async def take(part: Any) -> None:
        parts.append(part)

    return parts, take


async def never(*_: object) -> None:
    await asyncio.Event().wait()


async def beside(stuck: list[Awaitable[None]], then: Callable[[], Awaitable[None]]) -> None:
    """Begin what gets stuck, and do what must not wait for it."""
    tasks = [asyncio.ensure_future(one) for one in stuck]
    await asyncio.sleep(0.05)
    try:
        await asyncio.wait_for(then(), WITHIN_S)
    finally:
        for one in tasks:
            one.cancel()


def test_answers_that_nobody_takes_hold_up_no_other_reading(monkeypatch: pytest.MonkeyPatch):
    async def app(_scope: Any, _receive: Any, send: Any) -> None:
        await send(dict(START))
        await send(dict(BODY))

    turns, path = made_with(app, monkeypatch), "/visits/1/readings/one"
    parts, take = taken()

    async def run() -> None:
        stuck = [turns(asked("POST", path), nothing, never) for _ in range(8)]
        await beside(stuck, lambda: turns(asked("POST", path), nothing, take))

    asyncio.run(run())
    assert b"".join(part.get("body", b"") for part in parts) == BODY["body"]


@pytest.mark.parametrize("part", ["summary", "readings", "drawing", "plan"])
def test_pages_that_wait_for_a_plan_hold_up_no_other_page(monkeypatch: pytest.MonkeyPatch, part: str):
    async def app(scope: Any, _receive: Any, send: Any) -> None:
        if scope["path"].endswith(part):
            await never()
        await send(dict(START))
        await send(dict(BODY))

    turns, (parts, take) = made_with(app, monkeypatch), taken()

    async def run() -> None:
        stuck = [turns(asked("GET", f"/visits/{number}/{part}"), nothing, nothing) for number in range(8)]
        await beside(stuck, lambda: turns(asked("GET", "/instruments"), nothing, take))

    asyncio.run(run())
    assert b"".join(part.get("body", b"") for part in parts) == BODY["body"]
