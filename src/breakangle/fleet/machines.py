"""A scheduler or a worker of this machine, for a fleet over several; neither listens to others without certificates."""

import asyncio
import logging
import signal
from contextlib import suppress
from typing import Any
from urllib.parse import urlsplit

from breakangle.fleet.addresses import OWN_PAGES, checked_address
from breakangle.fleet.keys import Keys, security_of
from breakangle.fleet.needs import dask, dask_settings

CLOSE_S = 10.0  # for the others to answer when this one ends


def scheduler(address: str, keys: Keys | None = None) -> None:
    """Run a scheduler that listens at the address until it is interrupted.

    Raises:
        CorrectInputError: an address outside this machine without TLS and certificates.
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
    _until_interrupted(dask().Scheduler, (), options)


def worker(address: str, keys: Keys | None = None, host: str | None = None, memory_mb: int = 1500) -> None:
    """Run a worker of one thread for the scheduler at the address until it is interrupted.

    Args:
        address: the scheduler's.
        keys: certificates of both sides.
        host: this machine's own address for the others; of a scheduler on this machine, 127.0.0.1.
        memory_mb: what it may take; when it takes more it is ended and begun again.

    Raises:
        CorrectInputError: an address outside this machine without TLS and certificates.
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
    }
    _until_interrupted(dask().Nanny, (address,), options)


def _until_interrupted(kind: Any, arguments: tuple[Any, ...], options: dict[str, Any]) -> None:
    logging.getLogger("distributed").setLevel(logging.WARNING)

    async def stay() -> None:
        server = await kind(*arguments, **options)
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

    with dask_settings({}):
        asyncio.run(stay())
