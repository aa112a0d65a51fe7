"""A scheduler or a worker of this machine, for a fleet over several; neither listens to others without certificates."""

import asyncio
import logging
import signal
import time
from collections.abc import Callable
from contextlib import suppress
from typing import Any
from urllib.parse import urlsplit

from breakangle.fleet.addresses import OWN_PAGES, checked_address, nobody_answers
from breakangle.fleet.keys import Keys, security_of
from breakangle.fleet.needs import dask, dask_settings
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr

CLOSE_S = 10.0  # for the others to answer when this one ends
LONGEST_S = 30.0  # that a worker waits for its scheduler
Told = Callable[[str], None]


def scheduler(address: str, keys: Keys | None = None, told: Told = lambda address: None) -> None:
    """Run a scheduler that listens at the address until it is interrupted.

    Args:
        address: where it listens.
        keys: certificates of both sides.
        told: hears once, when it listens, at which address others reach it.

    Raises:
        CorrectInputError: an address outside this machine without TLS and certificates, or that cannot be listened at.
        InstallError: Dask is not installed.
    """
    checked_address(address, keys)
    parts = urlsplit(address)
    options = {
        "host": parts.hostname,
        "port": parts.port,
        "protocol": parts.scheme,
        "security": security_of(keys),
        "dashboard": False,
        "dashboard_address": OWN_PAGES,
    }
    try:
        _until_interrupted(dask().Scheduler, (), options, lambda server: told(server.address))
    except NotBegunError as cause:
        raise CorrectInputError(
            tr("{address} cannot be listened at: {why}", address=address, why=cause),
            "",
            tr("end what listens there, or name another port"),
        ) from cause


def worker(
    address: str,
    keys: Keys | None = None,
    host: str | None = None,
    memory_mb: int = 1500,
    told: Told = lambda address: None,
    longest_s: float = LONGEST_S,
) -> None:
    """Run a worker of one thread for the scheduler at the address until it is interrupted.

    Args:
        address: the scheduler's.
        keys: certificates of both sides.
        host: this machine's own address for the others; of a scheduler on this machine, 127.0.0.1.
        memory_mb: what it may take; when it takes more it is ended and begun again.
        told: hears the scheduler's address once, when the worker can be given work.
        longest_s: how long to wait for the scheduler to answer, each time it is asked, s.

    Raises:
        CorrectInputError: an address outside this machine without TLS and certificates, or it cannot begin here.
        ChooseAnotherFileError: no scheduler answers there.
        InstallError: Dask is not installed.
    """
    checked_address(address, keys)
    parts = urlsplit(address)
    own = host or ("127.0.0.1" if keys is None else None)
    if own is not None:
        checked_address(f"{parts.scheme}://{own}:0", keys)
    options = {
        "nthreads": 1,
        "host": own,
        "protocol": parts.scheme,
        "security": security_of(keys),
        "dashboard": False,
        "dashboard_address": OWN_PAGES,
        "memory_limit": f"{memory_mb}MB",
        "silence_logs": logging.WARNING,
    }
    began = time.monotonic()
    try:
        _until_interrupted(dask().Nanny, (address,), options, lambda _: told(address), longest_s)
    except NotBegunError as cause:
        if cause.unanswered:
            raise nobody_answers(address, keys, time.monotonic() - began) from cause
        raise CorrectInputError(
            tr("the worker did not begin: {why}", why=cause),
            tr("an address of this machine as its host") if host else "",
            tr("look at what keeps it back, and begin it again"),
        ) from cause


class NotBegunError(Exception):
    """A scheduler or a worker did not begin; its text says why.

    `unanswered`: it waited for another, who did not answer, would not have it or hung up.
    """

    def __init__(self, why: BaseException) -> None:
        """Keep what the system said."""
        super().__init__((getattr(why, "strerror", None) or str(why)).lower())
        lost = isinstance(why, TimeoutError | ConnectionError | dask().comm.CommClosedError)
        self.unanswered = lost or "timed out" in str(why).lower()


def _until_interrupted(
    kind: Any,
    arguments: tuple[Any, ...],
    options: dict[str, Any],
    begun: Callable[[Any], None],
    longest_s: float = LONGEST_S,
) -> None:
    logging.getLogger("distributed").setLevel(logging.WARNING)

    async def stay() -> None:
        try:
            server = await kind(*arguments, **options)
        except (RuntimeError, OSError, TimeoutError) as cause:
            why: BaseException = cause.__cause__ or cause
            raise NotBegunError(why) from cause
        begun(server)
        # Begun in the background, a process would not hear an interruption by itself.
        running, loop = asyncio.current_task(), asyncio.get_running_loop()
        assert running is not None
        for sign in (signal.SIGINT, signal.SIGTERM):
            loop.add_signal_handler(sign, running.cancel)
        try:
            with suppress(asyncio.CancelledError):
                await server.finished()
        finally:
            # Others may be gone already: their answers are not waited for for ever.
            with suppress(TimeoutError):
                await asyncio.wait_for(server.close(), CLOSE_S)

    with dask_settings({"distributed.comm.timeouts.connect": f"{longest_s} s"}):
        asyncio.run(stay())
