"""A connection with deadlines: for a request's head, for the pace of its body, and for taking the answer."""

import asyncio
import time
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from breakangle.web.limits.gate import Gate, Line, Stage

# Common practice, no source: long enough for a phone at the end of the house, short enough that nothing piles up.
HEAD_S, GRACE_S, LEAST_BYTES_PER_S, TAKEN_S = 10.0, 15.0, 2000.0, 60.0
LOOK_EVERY_S = 1.0


class Deadlines(H11Protocol):
    """The server's own protocol, which ends what is too slow and tells the gate how far a request has come."""

    gate: Gate

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to count."""
        super().connection_made(transport)
        here = transport.get_extra_info("socket")
        line = None if here is None else self.gate.line(here.fileno())
        self.line = line or Line(str(self.client[0]) if self.client else "", transport.abort)
        self.line.move_to(Stage.WAITING)
        self._stuck_since_s: float | None = None
        self._looking = self.loop.call_later(LOOK_EVERY_S, self._look)

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop counting."""
        self._looking.cancel()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Note what came, then how far the request is."""
        super().data_received(data)
        self.line.body_bytes += len(data)
        self._note()

    def on_response_complete(self) -> None:
        """Wait for the next request."""
        super().on_response_complete()
        self.line.move_to(Stage.WAITING)
        self._note()

    def handle_websocket_upgrade(self, event: h11.Request) -> None:
        """Leave the connection to the socket's own protocol, which has its own limits."""
        self._looking.cancel()
        self.line.move_to(Stage.ANSWERED)
        super().handle_websocket_upgrade(event)

    def _note(self) -> None:
        cycle: Any = self.cycle
        if cycle is None or cycle.response_complete:
            return
        stage = Stage.SENDING if cycle.more_body else Stage.ANSWERED
        if self.line.stage is not stage:
            self.line.move_to(stage)

    def _look(self) -> None:
        if self._too_slow(time.monotonic()):
            self.transport.abort()
            return
        self._looking = self.loop.call_later(LOOK_EVERY_S, self._look)

    def _too_slow(self, now_s: float) -> bool:
        taken_s = now_s - self.line.since_s
        if self.line.stage is Stage.WAITING:
            return taken_s > HEAD_S
        if self.line.stage is Stage.SENDING and not self.flow.read_paused:
            return taken_s > GRACE_S and self.line.body_bytes / taken_s < LEAST_BYTES_PER_S
        if not self.flow.write_paused:
            self._stuck_since_s = None
            return False
        self._stuck_since_s = self._stuck_since_s or now_s
        return now_s - self._stuck_since_s > TAKEN_S


def deadlines_with(gate: Gate) -> type[Deadlines]:
    """Return the protocol for a server whose connections this gate counts."""
    return type("DeadlinesOfGate", (Deadlines,), {"gate": gate})
