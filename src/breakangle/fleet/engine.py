"""Where the work is done: processes of this machine, or the workers of a Dask scheduler elsewhere.

A scheduler's messages can run code. So one of this machine speaks TLS with keys of its own that end with it, and one
elsewhere is spoken to over TLS with certificates on both sides or not at all (`fleet/keys.py`).
"""

import logging
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import cached_property
from itertools import chain
from typing import Any

from breakangle.fleet.addresses import checked_address
from breakangle.fleet.items import Item
from breakangle.fleet.keys import Keys, security_of
from breakangle.fleet.needs import dask
from breakangle.fleet.table import Answer
from breakangle.fleet.work import work
from breakangle.model.errors import BreakangleError, ChooseAnotherFileError
from breakangle.model.words.speech import tr

AHEAD = 3  # batches handed out for each worker, so that none waits for the next
LOST = "WorkerLost"


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
        first = next(batches, None)
        if first is None:
            return
        batches, running = chain([first], batches), dict[Any, Sequence[Item]]()
        coming = dask().as_completed(loop=self.client.loop)

        def hand_out(batch: Sequence[Item]) -> None:
            future = self.client.submit(self.does, job, list(batch), dict(settings), pure=False)
            running[future] = batch
            coming.add(future)

        for batch in _first(batches, AHEAD * self.workers()):
            hand_out(batch)
        while running:
            future = next(coming)
            batch = running.pop(future)
            answers = self._of(future, batch)
            future.release()
            if answers is None:
                for one in batch:
                    hand_out([one])
            else:
                yield answers
            for following in _first(batches, 1):
                hand_out(following)

    def _of(self, future: Any, batch: Sequence[Item]) -> list[Answer] | None:
        """Return a batch's answers; None where it is to be done item by item."""
        try:
            found: list[Answer] = future.result()
        except dask().scheduler.KilledWorker:
            if len(batch) > 1:
                return None
            said = tr("every worker that had this item died over it: it may take too much memory")
            return [Answer(one.name, one.sha256, 0.0, (), LOST, said) for one in batch]
        return found


def _first(batches: Iterator[Sequence[Item]], count: int) -> Iterator[Sequence[Item]]:
    for _ in range(count):
        batch = next(batches, None)
        if batch is None:
            return
        yield batch


@contextmanager
def local(workers: int = 2, memory_mb: int = 1500) -> Iterator[Engine]:
    """Give an engine of processes on this machine, one thread each, that end with it.

    Args:
        workers: how many.
        memory_mb: what each may take; one that takes more is ended and begun again.

    Raises:
        InstallError: Dask is not installed.
    """
    distributed = dask()
    with _quiet(), ExitStack() as stack:

        def connect() -> Any:
            cluster = stack.enter_context(
                distributed.LocalCluster(
                    n_workers=workers,
                    threads_per_worker=1,
                    processes=True,
                    host="127.0.0.1",
                    protocol="tls",
                    security=distributed.security.Security.temporary(),
                    dashboard_address=None,
                    memory_limit=f"{memory_mb}MB",
                    silence_logs=logging.CRITICAL,
                )
            )
            return stack.enter_context(distributed.Client(cluster, set_as_default=False))

        yield Engine(connect)


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
            raise ChooseAnotherFileError(
                tr("no scheduler answers at {address}", address=address),
                tr("waited {longest_s:g} s", longest_s=longest_s),
                tr("start one: breakangle fleet-scheduler"),
            ) from cause
        with client:
            if not client.nthreads():
                raise _no_workers(address)
            yield Engine(lambda: client)


def _no_workers(address: str) -> BreakangleError:
    return ChooseAnotherFileError(
        tr("the scheduler at {address} has no workers", address=address),
        "",
        tr("start one: breakangle fleet-worker {address}", address=address),
    )


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
