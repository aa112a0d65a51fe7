"""What the server sends is on its way at once, however little it is."""

import asyncio
import socket
from concurrent.futures import ThreadPoolExecutor

from breakangle.web.limits.gate import Gate
from breakangle.web.server import _held_port


def sends_at_once() -> bool:
    """Return whether a connection to the server's own port is made to send each piece at once."""
    found: list[bool] = []

    async def answered(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        del reader
        own = writer.get_extra_info("socket")
        found.append(bool(own.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)))
        writer.close()

    async def ask() -> None:
        held = _held_port("127.0.0.1", 0, Gate())
        server = await asyncio.start_server(answered, sock=held)
        reader, writer = await asyncio.open_connection(*held.getsockname())
        await reader.read()
        writer.close()
        server.close()

    with ThreadPoolExecutor(1) as own_thread:  # the browser's tests have a loop running in this one
        own_thread.submit(asyncio.run, ask()).result()
    return found[0]


def test_a_pages_body_does_not_wait_for_the_other_side():
    """Nagle's algorithm (RFC 896) against delayed acknowledgement (RFC 1122, 4.2.3.2) costs 40 ms a page."""
    assert sends_at_once()
