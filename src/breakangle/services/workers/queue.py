"""Who is at work and who waits: each kind of work has so many at once and so many waiting; more are told to come back.

The server begins the processes; the command line and tests work in their own process, by the same queues.
"""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TypeVar

from breakangle.model.errors import BusyError
from breakangle.model.words.speech import mark
from breakangle.services.workers.process import in_process

Result = TypeVar("Result")


class Queue:
    """The queue of one kind of work."""

    apart = False  # whether work goes to processes of its own; the server says so

    def __init__(
        self, kind: str, at_once: int, waiting: int, most_mb: int, longest_s: float, usual_s: float
    ) -> None:
        """Begin empty.

        Args:
            kind: what is made, in words.
            at_once: how many pieces are worked on at a time.
            waiting: how many more may wait.
            most_mb: memory that one piece may take.
            longest_s: time that one piece may take.
            usual_s: time that one piece usually takes, to tell those sent away when to come back.
        """
        self.kind, self.at_once, self.waiting = kind, at_once, waiting
        self.most_mb, self.longest_s, self.usual_s = most_mb, longest_s, usual_s
        self._lock, self._count = threading.Lock(), 0
        self._places, self._mine = threading.Semaphore(at_once), threading.local()

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Hold a place at work, as soon as there is one; inside it the same thread needs no other.

        Raises:
            BusyError: too many wait already.
        """
        if getattr(self._mine, "held", False):
            yield
            return
        with self._lock:
            if self._count >= self.at_once + self.waiting:
                raise BusyError(self.kind, self._count, self.usual_s * self._count / self.at_once)
            self._count += 1
        try:
            with self._places:
                self._mine.held = True
                try:
                    yield
                finally:
                    self._mine.held = False
        finally:
            with self._lock:
                self._count -= 1

    def run(self, function: Callable[..., Result], *arguments: object) -> Result:
        """Return what the function returns, when it is its turn, in a process of its own where there are any.

        Raises:
            BusyError: too many wait already.
            ChooseAnotherFileError: it took too much memory or time.
            BreakangleError: as the function does.
        """
        with self.turn():
            if Queue.apart:
                return in_process(function, arguments, self.most_mb, self.longest_s)
            return function(*arguments)


# All who may wait together are fewer than the threads that answer pages, so that those who wait hold up nobody else.
THREADS = 64
PICTURES = Queue(mark("pictures"), at_once=1, waiting=5, most_mb=640, longest_s=60.0, usual_s=1.0)
LISTENING = Queue(mark("recordings"), at_once=1, waiting=3, most_mb=512, longest_s=300.0, usual_s=20.0)
PAPERS = Queue(mark("papers"), at_once=1, waiting=6, most_mb=512, longest_s=60.0, usual_s=2.0)
# Most of those with a turn wait for the one process that works plans out; what is short goes by them meanwhile.
PLANS = Queue(mark("plans"), at_once=6, waiting=20, most_mb=512, longest_s=60.0, usual_s=1.0)
# Of whole shops, in which the largest recording is read whole.
EXPORTS = Queue(mark("exports"), at_once=1, waiting=3, most_mb=1024, longest_s=3600.0, usual_s=20.0)
