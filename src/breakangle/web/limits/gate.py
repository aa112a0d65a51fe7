"""Who may be connected at once: so many in all, so many of each address, some kept free for this computer.

A connection that has sent no whole request gives way to a new one where there is no room: a half-open connection costs
its sender nothing, so it must cost the others nothing either. Of those on which a request is still coming in, the one
that has brought least goes first; one that is being answered never gives way.
"""

import threading
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from enum import IntEnum

THIS_COMPUTER = ("127.0.0.1", "::1")
MOST_CONNECTIONS = (
    512  # common practice, no source: far below the 1,024 files that a process may usually have open
)
MOST_OF_AN_ADDRESS = 64  # a browser opens six of an origin; ten devices behind one router fit
RESERVE = 64  # that only this computer may use


class Stage(IntEnum):
    """How far a connection's request has come; the lowest gives way first."""

    WAITING = 0
    SENDING = 1
    ANSWERED = 2


@dataclass(eq=False)
class Line:
    """A connection: its address, how far its request is, since when, and how many bytes of a body it has brought."""

    address: str
    end: Callable[[], None]
    stage: Stage = Stage.WAITING
    since_s: float = field(default_factory=time.monotonic)
    body_bytes: int = 0

    def move_to(self, stage: Stage) -> None:
        """Note that the request has come that far, now."""
        self.stage, self.since_s, self.body_bytes = stage, time.monotonic(), 0

    @property
    def rank(self) -> tuple[int, int, float]:
        """Return what orders those that give way."""
        return self.stage, self.body_bytes, self.since_s


class Gate:
    """Counts the connections of all ports of a server, and makes room."""

    def __init__(
        self,
        most: int = MOST_CONNECTIONS,
        most_of_an_address: int = MOST_OF_AN_ADDRESS,
        reserve: int = RESERVE,
    ) -> None:
        """Begin with none."""
        self._most, self._each, self._reserve = most, most_of_an_address, reserve
        self._lock, self._lines = threading.Lock(), dict[int, Line]()

    def let_in(self, number: int, line: Line) -> bool:
        """Return whether a new connection is let in under the number of its file; the one it replaces is ended."""
        with self._lock:
            room = self._room_for(line)
            if room:
                self._lines[number] = line
        return room

    def line(self, number: int) -> Line | None:
        """Return the connection of this file number; None where it is not counted."""
        return self._lines.get(number)

    def gone(self, number: int, line: Line) -> None:
        """Note that a connection has ended; one that gave way is counted no more, and its number may be another's."""
        with self._lock:
            if self._lines.get(number) is line:
                del self._lines[number]

    def __len__(self) -> int:
        """Return how many are connected."""
        return len(self._lines)

    def _room_for(self, line: Line) -> bool:
        if line.address in THIS_COMPUTER:
            if len(self._lines) < self._most:
                return True
            return self._gave_way(self._strangers()) or self._gave_way(self._lines.values())
        own = [other for other in self._lines.values() if other.address == line.address]
        if len(own) >= self._each:
            return self._gave_way(own)
        strangers = self._strangers()
        return len(strangers) < self._most - self._reserve or self._gave_way(strangers)

    def _strangers(self) -> list[Line]:
        return [line for line in self._lines.values() if line.address not in THIS_COMPUTER]

    def _gave_way(self, lines: Iterable[Line]) -> bool:
        """End the one of these that gives way first; return whether there was one."""
        first = min(lines, key=lambda line: line.rank, default=None)
        if first is None or first.stage is Stage.ANSWERED:
            return False
        number = next(at for at, line in self._lines.items() if line is first)
        del self._lines[number]
        first.end()
        return True
