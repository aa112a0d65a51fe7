"""Where the work is done: processes of this machine, or the workers of a Dask scheduler elsewhere.

A scheduler's messages can run code. So one of this machine speaks TLS with keys of its own that end with it, and one
elsewhere is spoken to over TLS with certificates on both sides or not at all (`fleet/keys.py`).
"""

import asyncio
import logging
import os
import signal
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from functools import cached_property, partial
from itertools import chain, islice
from typing import Any

from breakangle import __version__
from breakangle.fleet.addresses import OWN_PAGES, checked_address, nobody_answers
from breakangle.fleet.items import Item
from breakangle.fleet.keys import Keys, security_of
from breakangle.fleet.needs import dask, dask_settings
from breakangle.fleet.table import Answer
from breakangle.fleet.work import Asker, interruptions_held, work, work_for
from breakangle.model.errors import BreakangleError, ChooseAnotherFileError
from breakangle.model.words.speech import spoken_language, tr

AHEAD = 3  # batches handed out for each worker, so that none waits for the next
NEVER_S = 1e7  # Dask's own watch would close workers that a busy machine tells it of too late
GONE_S, LOOK_S = 60.0, 1.0  # on a machine with much else to do a worker may take half a minute to start
HURRY_S = 0.05  # until it is looked again whether what begins has a process that can be ended
LOST = "WorkerLost"
DEAD = object()  # in the place of a result: every worker that had the task died


@dataclass(frozen=True)
class Engine:
    """A way to have batches done; `connect` gives Dask's client, and is asked when the first batch is there."""

    connect: Callable[[], Any]
    does: Callable[[str, Sequence[Item], Mapping[str, Any]], list[Answer]] = work

    @cached_property
    def client(self) -> Any:
        """Return Dask's client."""
        return self.connect()

    def workers(self) -> int:
        """Return how many pieces of work are done at once, at least one."""
        return max(1, sum(int(threads) for threads in self.client.nthreads().values()))

    def answers(
        self, job: str, batches: Iterator[Sequence[Item]], settings: Mapping[str, Any]
    ) -> Iterator[list[Answer]]:
        """Give each batch's answers as they come, in any order.

        A batch whose worker died again and again is done once more item by item: the one that kills its worker is that
        item's failure.
        """
        asker = Asker(__version__, spoken_language())
        does, told = partial(work_for, asker, self.does, job), dict(settings)
        for batch, answers in self.each(lambda batch: (does, list(batch), told), batches, _one_by_one):
            if answers is DEAD:
                said = tr("every worker that had this item died over it: it may take too much memory")
                answers = [Answer(one.name, one.sha256, 0.0, (), LOST, said) for one in batch]
            yield answers

    def each(
        self,
        call: Callable[[Any], tuple[Any, ...]],
        tasks: Iterator[Any],
        parts: Callable[[Any], Sequence[Any]] = lambda task: [task],
    ) -> Iterator[tuple[Any, Any]]:
        """Give each task with what became of it, in any order; `DEAD` where it killed every worker that had it.

        Whatever waits at a worker that dies is blamed with what it was doing. So a task is believed to be the one only
        after it has been tried with nothing else at work, when all others are done.

        Args:
            call: from a task to the function that does it and its arguments, both as a worker can read them.
            tasks: what to do; the first is asked for before a worker is started.
            parts: what a task may be taken apart into where its workers die.
        """
        first = next(tasks, None)
        if first is None:
            return
        tasks, running, alone = chain([first], tasks), dict[Any, Any](), list[Any]()
        coming = dask().as_completed(loop=self.client.loop)

        def hand_out(task: Any) -> None:
            future = self.client.submit(*call(task), pure=False)
            running[future] = task
            coming.add(future)

        for task in islice(tasks, AHEAD * self.workers()):
            hand_out(task)
        while running:
            future = next(coming)
            task = running.pop(future)
            if (found := _of(future)) is not DEAD:
                yield task, found
            elif len(smaller := parts(task)) > 1:
                for one in smaller:
                    hand_out(one)
            else:
                alone.append(task)
            for following in islice(tasks, 1):
                hand_out(following)
        for task in alone:
            yield task, _of(self.client.submit(*call(task), pure=False))


def _of(future: Any) -> Any:
    """Return what a worker answered; `DEAD` where every one that had it died."""
    try:
        return future.result()
    except dask().scheduler.KilledWorker:
        return DEAD
    finally:
        future.release()


def _one_by_one(batch: Sequence[Item]) -> list[Sequence[Item]]:
    return [[one] for one in batch]


@contextmanager
def local(
    workers: int = 2, memory_mb: int = 1500, deaths: int = 3, gone_s: float = GONE_S
) -> Iterator[Engine]:
    """Give an engine of processes on this machine, one thread each, that end with it.

    Args:
        workers: how many.
        memory_mb: what each may take; one that takes more is ended and begun again.
        deaths: how many workers may die over a task before it is taken apart, or tried with nothing else at work.
        gone_s: how long a worker that died may take to come back before another takes its place, s.

    Raises:
        InstallError: Dask is not installed.
    """
    distributed = dask()
    with _quiet(), ExitStack() as stack:

        def connect() -> Any:
            with interruptions_held():  # what is begun can be ended, whenever one comes
                stack.enter_context(dask_settings({"distributed.deploy.lost-worker-timeout": NEVER_S}))
                cluster = stack.enter_context(
                    distributed.LocalCluster(
                        n_workers=0,
                        threads_per_worker=1,
                        processes=True,
                        host="127.0.0.1",
                        protocol="tls",
                        security=distributed.security.Security.temporary(),
                        dashboard_address=OWN_PAGES,
                        worker_dashboard_address=OWN_PAGES,
                        memory_limit=f"{memory_mb}MB",
                        silence_logs=logging.CRITICAL,
                    )
                )
                cluster.scheduler.allowed_failures = deaths
                client = stack.enter_context(distributed.Client(cluster, set_as_default=False))
                stack.callback(cluster.sync, _none_begins, cluster)
                stack.enter_context(_kept_up(cluster, workers, gone_s))
            cluster.sync(_begun, cluster, workers)
            return client

        try:
            yield Engine(connect)
        finally:
            with interruptions_held():
                stack.close()


async def _begun(cluster: Any, workers: int) -> None:
    """Wait for so many workers; who stops waiting does not have Dask forget those that it is just beginning."""
    cluster.scale(workers)
    await asyncio.shield(cluster)


async def _none_begins(cluster: Any) -> None:
    """End workers that are still beginning: they have nothing to lose, and Dask would first wait for them."""
    while beginning := [nanny for nanny in cluster._created if nanny.status is dask().Status.init]:
        for nanny in beginning:
            if nanny.pid:
                with suppress(ProcessLookupError):
                    os.kill(nanny.pid, signal.SIGTERM)
        await asyncio.sleep(HURRY_S)


@contextmanager
def _kept_up(cluster: Any, workers: int, gone_s: float) -> Iterator[None]:
    """Have workers replaced that have been gone for so long: one that dies while it starts is never begun again."""
    over, gone_since = threading.Event(), dict[Any, float]()

    async def look() -> None:
        here = {worker.name for worker in cluster.scheduler.workers.values()}
        for name, nanny in list(cluster.workers.items()):
            since = gone_since.setdefault(name, time.monotonic())
            if name in here:
                del gone_since[name]
            elif time.monotonic() - since > gone_s:
                del gone_since[name], cluster.workers[name]
                await nanny.close()
        cluster.scale(workers)

    def look_on() -> None:
        while not over.wait(LOOK_S):
            cluster.loop.add_callback(look)

    thread = threading.Thread(target=look_on, daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


@contextmanager
def elsewhere(address: str, keys: Keys | None = None, longest_s: float = 10.0) -> Iterator[Engine]:
    """Give an engine of the workers of a scheduler.

    Args:
        address: of the scheduler, such as `tls://bench.example:8786`.
        keys: certificates of both sides.
        longest_s: how long to wait for it to answer, s.

    Raises:
        CorrectInputError: an address outside this machine without TLS and certificates.
        ChooseAnotherFileError: nothing answers there.
        InstallError: Dask is not installed.
    """
    checked_address(address, keys)
    distributed = dask()
    with _quiet():
        try:
            client = distributed.Client(
                address, security=security_of(keys), timeout=longest_s, set_as_default=False
            )
        except (OSError, TimeoutError) as cause:
            raise nobody_answers(address, keys, longest_s) from cause
        with client:
            if not client.nthreads():
                raise _no_workers(address, keys)
            yield Engine(lambda: client)


def _no_workers(address: str, keys: Keys | None) -> BreakangleError:
    start = (
        tr("start one: breakangle fleet-worker {address}", address=address)
        if keys is None
        else tr(
            "start one: breakangle fleet-worker {address} --keys {folder}",
            address=address,
            folder=keys.key.parent,
        )
    )
    return ChooseAnotherFileError(tr("the scheduler at {address} has no workers", address=address), "", start)


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep Dask's own log of workers that come and go to itself: what matters of it is told as failures."""
    loggers = [logging.getLogger(name) for name in ("distributed", "tornado", "asyncio")]
    before = [one.level for one in loggers]
    for one in loggers:
        one.setLevel(logging.CRITICAL)
    try:
        yield
    finally:
        for one, level in zip(loggers, before, strict=True):
            one.setLevel(level)
