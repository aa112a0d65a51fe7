"""Answers kept in memory, the longest unused going first; and which page is being made just now."""

import asyncio
from collections import OrderedDict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from starlette.types import Message

MOST_BYTES, LARGEST_BYTES = 32 * 2**20, 2**20


@dataclass(frozen=True)
class Kept:
    """One answer, the mark of what it was made from, and when it was begun, by the clock that only goes forward."""

    mark: tuple[Any, ...]
    start: Message
    body: bytes
    begun_s: float = 0.0


class KeptAnswers:
    """The answers of one open shop; all is done in the server's own loop."""

    def __init__(self) -> None:
        """Begin with none."""
        self._kept, self._size = OrderedDict[Any, Kept](), 0
        self._making: dict[Any, tuple[asyncio.Lock, list[int]]] = {}

    def get(self, key: Any, mark: tuple[Any, ...]) -> Kept | None:
        """Return the answer if it was made from what has this mark."""
        found = self._kept.get(key)
        if found is None or found.mark != mark:
            return None
        self._kept.move_to_end(key)
        return found

    def made_since(self, key: Any, asked_s: float) -> Kept | None:
        """Return the answer if it was begun after that moment: all that was stored by then is in it."""
        found = self._kept.get(key)
        return found if found is not None and found.begun_s >= asked_s else None

    def put(self, key: Any, answer: Kept) -> None:
        """Keep an answer in the place of the one before."""
        self._drop(self._kept.pop(key, None))
        if len(answer.body) > LARGEST_BYTES:
            return
        self._kept[key] = answer
        self._size += len(answer.body)
        while self._size > MOST_BYTES:
            self._drop(self._kept.popitem(last=False)[1])

    def _drop(self, answer: Kept | None) -> None:
        self._size -= len(answer.body) if answer is not None else 0

    @contextmanager
    def making(self, key: Any) -> Iterator[asyncio.Lock]:
        """Give the lock of the page that is made under this key: of those who ask at once one makes it."""
        lock, users = self._making.setdefault(key, (asyncio.Lock(), [0]))
        users[0] += 1
        try:
            yield lock
        finally:
            users[0] -= 1
            if not users[0]:
                self._making.pop(key, None)
