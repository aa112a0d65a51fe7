"""What a worker does: one batch of items, each by itself, so that a bad one stops none of the rest."""

import time
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from breakangle.fleet.items import Item
from breakangle.fleet.jobs import job_named
from breakangle.fleet.table import Answer
from breakangle.model.errors import BreakangleError
from breakangle.model.words.speech import language, tr


def in_language(locale: str, does: Callable[..., Any], *given: Any) -> Any:
    """Return what `does` returns, said in the language of who asked for it: a worker has none of its own."""
    with language(locale):
        return does(*given)


def work(name: str, items: Sequence[Item], settings: Mapping[str, Any]) -> list[Answer]:
    """Return what became of each item; whatever goes wrong with one is that one's failure."""
    return [_answer(name, one, settings) for one in items]


def _answer(name: str, item: Item, settings: Mapping[str, Any]) -> Answer:
    began = time.perf_counter()
    try:
        rows = tuple(job_named(name).rows(item, settings))
    except BreakangleError as error:
        return _failed(item, began, type(error).__name__, " ".join(str(error).split()))
    except Exception as error:  # a fault of the program in one item is told, and stops none of the others
        return _failed(item, began, type(error).__name__, tr("the program broke off: {error!r}", error=error))
    return Answer(item.name, item.sha256, time.perf_counter() - began, rows)


def _failed(item: Item, began: float, error: str, sentence: str) -> Answer:
    return Answer(item.name, item.sha256, time.perf_counter() - began, (), error, sentence)
