"""Serving the app: ports of this computer, plain for itself and https for its network, and a browser opened on it."""

import asyncio
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from fastapi import FastAPI

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.services.workers.queue import Queue
from breakangle.storage.connection.lease import hold
from breakangle.web.app import make_app
from breakangle.web.limits.gate import Gate
from breakangle.web.limits.port import Port, port_with
from breakangle.web.options import Options

if TYPE_CHECKING:
    from uvicorn import Server

    from breakangle.web.authority import Certificates

MOST_HEAD_BYTES, IDLE_S = 65_536, 5
# A page waits for the interpreter after each of its many short questions to the records: while a plan is worked out,
# Python's own 5 ms (sys.getswitchinterval) would come on top of every one of them.
SWITCH_S = 0.0005


def serve(
    options: Options,
    ready: Callable[[str], None],
    open_at: str | None = None,
    certificates: "Certificates | None" = None,
) -> None:
    """Serve until interrupted; `ready` is told the address once the ports are held.

    Raises:
        CorrectInputError: a port is taken, or not ours to take; another server holds the shop.
    """
    everywhere = "0.0.0.0" if options.network else "127.0.0.1"
    lease = hold(options.folder, options.address, options.take_over)
    Queue.apart = True
    sys.setswitchinterval(SWITCH_S)
    app = make_app(options)
    app.state.workshop.lease = lease
    try:
        _serve_on_ports(app, options, everywhere, ready, open_at, certificates)
    finally:
        if lease is not None:
            lease.end()


def _serve_on_ports(
    app: FastAPI,
    options: Options,
    everywhere: str,
    ready: Callable[[str], None],
    open_at: str | None,
    certificates: "Certificates | None",
) -> None:
    gate = Gate()
    servers: list[tuple[Any, socket.socket]] = [
        (_server(app, gate), _held_port(everywhere, options.port, gate))
    ]
    if options.secure_port is not None and certificates is not None:
        files = {"ssl_certfile": str(certificates.server), "ssl_keyfile": str(certificates.key)}
        secure = _server(app, gate, lifespan="off", **files)
        servers.append((secure, _held_port(everywhere, options.secure_port, gate)))
    ready(options.address)
    if open_at is not None:
        threading.Timer(0.3, webbrowser.open, [options.address + open_at]).start()
    first, held = servers[0]
    if len(servers) == 1:
        first.run(sockets=[held])
    else:
        asyncio.run(_both(servers))


def _server(app: Any, gate: Gate, **more: Any) -> "Server":
    import uvicorn

    from breakangle.web.limits.deadlines import deadlines_with

    # Sound does not get smaller by general compression; it would only cost time.
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, proxy_headers=False, server_header=False,
        ws_max_size=2**20, ws_per_message_deflate=False, http=deadlines_with(gate), loop="asyncio",
        h11_max_incomplete_event_size=MOST_HEAD_BYTES, timeout_keep_alive=IDLE_S, **more,
    )  # fmt: skip
    return uvicorn.Server(config)


async def _both(servers: "list[tuple[Server, socket.socket]]") -> None:
    """Serve on every port; the first server hears the interrupt, and when one ends all do."""

    @contextmanager
    def deaf() -> Iterator[None]:
        yield

    for one, _ in servers[1:]:
        one.capture_signals = deaf  # type: ignore[method-assign]
    running = [asyncio.create_task(one.serve(sockets=[held])) for one, held in servers]
    await asyncio.wait(running, return_when=asyncio.FIRST_COMPLETED)
    for one, _ in servers:
        one.should_exit = True
    await asyncio.gather(*running)


def _held_port(address: str, port: int, gate: Gate) -> Port:
    held = port_with(gate)
    held.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        held.bind((address, port))
        held.listen()  # a browser that is there first waits until the pages are ready
    except (OSError, OverflowError) as cause:
        held.close()
        reason = getattr(cause, "strerror", None) or str(cause)
        raise CorrectInputError(
            tr("port {port} is taken: {reason}", port=port, reason=reason.lower()),
            "",
            tr("is it running already? else --port N"),
        ) from cause
    return held
