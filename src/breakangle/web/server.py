"""Serving the app: ports of this computer, plain for itself and https for its network, and a browser opened on it."""

import asyncio
import socket
import threading
import webbrowser
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from breakangle.model.errors import CorrectInputError
from breakangle.web.app import make_app
from breakangle.web.options import Options

if TYPE_CHECKING:
    from uvicorn import Server

    from breakangle.web.authority import Certificates


def serve(
    options: Options,
    ready: Callable[[str], None],
    open_at: str | None = None,
    certificates: "Certificates | None" = None,
) -> None:
    """Serve until interrupted; `ready` is told the address once the ports are held.

    Raises:
        CorrectInputError: a port is taken, or not ours to take.
    """
    everywhere = "0.0.0.0" if options.network else "127.0.0.1"
    app = make_app(options)
    servers = [(_server(app), _held_port(everywhere, options.port))]
    if options.secure_port is not None and certificates is not None:
        files = {"ssl_certfile": str(certificates.server), "ssl_keyfile": str(certificates.key)}
        secure = _server(app, lifespan="off", **files)
        servers.append((secure, _held_port(everywhere, options.secure_port)))
    ready(options.address)
    if open_at is not None:
        threading.Timer(0.3, webbrowser.open, [options.address + open_at]).start()
    first, held = servers[0]
    if len(servers) == 1:
        first.run(sockets=[held])
    else:
        asyncio.run(_both(servers))


def _server(app: Any, **more: Any) -> "Server":
    import uvicorn

    # Sound does not get smaller by general compression; it would only cost time.
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, proxy_headers=False, server_header=False,
        ws_max_size=2**20, ws_per_message_deflate=False, **more,
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


def _held_port(address: str, port: int) -> socket.socket:
    # With the protocol said asyncio sends each piece at once; without it a page's body waits 40 ms for an answer from
    # the other side (Nagle's algorithm against delayed acknowledgement, RFC 896 and RFC 1122, section 4.2.3.2).
    held = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    held.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        held.bind((address, port))
        held.listen()  # a browser that is there first waits until the pages are ready
    except (OSError, OverflowError) as cause:
        held.close()
        reason = getattr(cause, "strerror", None) or str(cause)
        raise CorrectInputError(
            f"port {port} is taken: {reason.lower()}", "", "is it running already? else --port N"
        ) from cause
    return held
