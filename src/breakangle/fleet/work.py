"""What a worker does: one batch of items, each by itself, so that a bad one stops none of the rest."""

import signal
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import resource_tracker
from typing import Any

from breakangle import __version__
from breakangle.fleet.items import Item
from breakangle.fleet.jobs import job_named
from breakangle.fleet.table import Answer
from breakangle.model.errors import BreakangleError, ChooseAnotherFileError, InstallError
from breakangle.model.words.speech import language, tr


@dataclass(frozen=True)
class Asker:
    """Who asks a worker, maybe from another machine: the version of the program there, and the language spoken."""

    version: str
    language: str


def work_for(asker: Asker, does: Callable[..., Any], *given: Any) -> Any:
    """Return what `does` returns for what is given, in the asker's language: a worker has none of its own.

    Raises:
        InstallError: this machine has another version: its answers would not be those of the others.
    """
    with language(asker.language):
        if asker.version != __version__:
            raise InstallError(
                tr("a worker has version {theirs} of Breakangle", theirs=__version__),
                tr("this is version {ours}", ours=asker.version),
                tr("install the same version on every machine, and start the workers again"),
            )
        return does(*given)


def work(name: str, items: Sequence[Item], settings: Mapping[str, Any]) -> list[Answer]:
    """Return what became of each item; whatever goes wrong with one is that one's failure."""
    return [_answer(name, one, settings) for one in items]


def _answer(name: str, item: Item, settings: Mapping[str, Any]) -> Answer:
    began = time.perf_counter()
    if item.unread:
        return _failed(item, began, ChooseAnotherFileError.__name__, item.unread)
    try:
        rows = tuple(job_named(name).rows(item, settings))
    except BreakangleError as error:
        return _failed(item, began, type(error).__name__, " ".join(str(error).split()))
    except Exception as error:  # a fault of the program in one item is told, and stops none of the others
        return _failed(item, began, type(error).__name__, tr("the program broke off: {error!r}", error=error))
    return Answer(item.name, item.sha256, time.perf_counter() - began, rows)


def _failed(item: Item, began: float, error: str, sentence: str) -> Answer:
    return Answer(item.name, item.sha256, time.perf_counter() - began, (), error, sentence)


def dask_setup(worker: Any) -> None:
    """Leave interruptions to who began this process; Dask calls it as a worker begins (its `preload`).

    Ctrl+C at a terminal reaches every process of a run: one that heard it itself would print where it was, in the
    middle of what a person reads.
    """
    del worker
    signal.signal(signal.SIGINT, signal.SIG_IGN)


@contextmanager
def interruptions_held() -> Iterator[None]:
    """Hold Ctrl+C back until this is left; threads begun in here, and all processes that they begin, never hear it."""
    heard, before = list[Any](), signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or not callable(before):
        yield
        return
    can_be_deaf = hasattr(signal, "pthread_sigmask")  # a thread alone; not on Windows
    signal.signal(signal.SIGINT, lambda *sign: heard.append(sign))
    if can_be_deaf:
        resource_tracker.ensure_running()  # the thread that begins it would hear again
        mask = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        if can_be_deaf:
            signal.pthread_sigmask(signal.SIG_SETMASK, mask)
        signal.signal(signal.SIGINT, before)
        if heard:
            before(*heard[0])
