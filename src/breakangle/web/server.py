"""Serving the app: a port of this computer, and a browser opened on it."""

import socket
import threading
import webbrowser
from collections.abc import Callable

from breakangle.model.errors import CorrectInputError
from breakangle.web.app import make_app
from breakangle.web.options import Options


def serve(options: Options, ready: Callable[[str], None], open_at: str | None = None) -> None:
    """Serve until interrupted; `ready` is told the address once the port is held.

    Raises:
        CorrectInputError: the port is taken, or not ours to take.
    """
    import uvicorn

    held = _held_port("0.0.0.0" if options.network else "127.0.0.1", options.port)
    app = make_app(options)
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, proxy_headers=False, ws_max_size=2**20
    )
    ready(options.address)
    if open_at is not None:
        threading.Timer(0.3, webbrowser.open, [options.address + open_at]).start()
    uvicorn.Server(config).run(sockets=[held])


def _held_port(address: str, port: int) -> socket.socket:
    held = socket.socket(socket.AF_INET)
    held.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        held.bind((address, port))
    except OSError as cause:
        held.close()
        raise CorrectInputError(
            f"port {port} is taken: {(cause.strerror or '').lower()}",
            "",
            "is it running already? else --port N",
        ) from cause
    return held
