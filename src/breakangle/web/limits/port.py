"""A port whose new connections pass the gate before a byte of them is read, and before any encryption is agreed on."""

import socket
from contextlib import suppress
from typing import Any

from breakangle.web.limits.gate import Gate, Line

MOST_ENDING = 64  # ended, but not yet closed by the loop: it gets a turn before more are taken


class Connection(socket.socket):
    """A connection that the gate counts until it is closed."""

    line: Line
    port: "Port"

    def close(self) -> None:
        """Close it, and count it no more."""
        number = self.fileno()
        super().close()
        self.port.closed(number, self.line)

    def end(self) -> None:
        """End it in both directions; the loop sees that and closes it."""
        self.port.ending.add(self.line)
        with suppress(OSError):
            self.shutdown(socket.SHUT_RDWR)


class Port(socket.socket):
    """A listening socket with a gate."""

    gate: Gate
    ending: set[Line]

    def accept(self) -> tuple[socket.socket, Any]:
        """Return the next connection that the gate lets in, as asyncio's loop asks for it.

        Raises:
            BlockingIOError: there is none now, or those that gave way are to be closed first.
        """
        while len(self.ending) < MOST_ENDING:
            plain, address = super().accept()
            connection = Connection(plain.family, plain.type, plain.proto, fileno=plain.detach())
            connection.port, connection.line = self, Line(str(address[0]), connection.end)
            if self.gate.let_in(connection.fileno(), connection.line):
                return connection, address
            connection.close()
        raise BlockingIOError

    def closed(self, number: int, line: Line) -> None:
        """Count a connection no more."""
        self.ending.discard(line)
        self.gate.gone(number, line)


def port_with(gate: Gate) -> Port:
    """Return a new TCP socket with the gate.

    With the protocol said asyncio sends each piece at once; without it a page's body waits 40 ms for an answer from
    the other side (Nagle's algorithm against delayed acknowledgement, RFC 896 and RFC 1122, section 4.2.3.2).
    """
    port = Port(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    port.gate, port.ending = gate, set()
    return port
