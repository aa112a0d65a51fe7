"""A process that stays and does one piece of work after another, so that pages do not wait behind it.

For work of the program's own making, such as plans: no file from outside decides how much memory it takes, so a fork
for each piece, as for pictures, would cost more than it is worth. The process ends with the one that began it.
"""

import signal
import threading
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.connection import Connection
from typing import Any, TypeVar

from breakangle.model.errors import BreakangleError
from breakangle.model.words.speech import language, spoken_language, tr
from breakangle.services.workers.process import limit_memory, worker_context

Result = TypeVar("Result")


class BrokeOffError(Exception):
    """The process ended, or took too long: nothing is known of the work."""


class Lasting:
    """The process, begun when it is first needed and again when it has broken off."""

    def __init__(self, most_mb: int, longest_s: float) -> None:
        """Begin without it.

        Args:
            most_mb: memory that it may take beyond its libraries.
            longest_s: time that one piece of work may take.
        """
        self._most_mb, self._longest_s = most_mb, longest_s
        self._lock = threading.Lock()
        self._process: Any = None
        self._line: Connection[Any, Any] | None = None

    def run(self, function: Callable[..., Result], *arguments: object) -> Result:
        """Return what the function returns there, as soon as the process is free; both ways it is pickled.

        Raises:
            BrokeOffError: the process ended, or took too long.
            BreakangleError: as the function does.
        """
        with self._lock:
            try:
                line = self._line or self._begun()
                line.send((spoken_language(), function, arguments))
                if not line.poll(self._longest_s):
                    raise BrokeOffError(tr("no answer within {longest_s:g} s", longest_s=self._longest_s))
                good, answer = line.recv()
            except (EOFError, OSError, BrokeOffError) as cause:
                self._ended()
                raise BrokeOffError(str(cause)) from cause
        if good:
            result: Result = answer
            return result
        raise answer

    def end(self) -> None:
        """End the process, whatever it is at."""
        process = self._process
        if process is not None:
            with suppress(ValueError):  # it was closed just now
                process.kill()
        with self._lock:
            self._ended()

    def _begun(self) -> "Connection[Any, Any]":
        context = worker_context()
        ours, theirs = context.Pipe()
        process = context.Process(target=_work, args=(theirs, self._most_mb), daemon=True)
        try:
            process.start()
        except (EOFError, OSError):  # what it is forked from has ended: the next is begun anew
            ours.close()
            raise
        finally:
            theirs.close()
        self._process = process
        self._line = ours
        return self._line

    def _ended(self) -> None:
        line, process = self._line, self._process
        self._line = self._process = None
        if line is not None:
            line.close()
        if process is not None:
            process.kill()
            process.join()
            process.close()


def _work(line: "Connection[Any, Any]", most_mb: int) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server hears it, and ends this
    limit_memory(most_mb)
    while True:
        try:
            spoken, function, arguments = line.recv()
        except (EOFError, OSError):  # the one that began it has ended
            return
        answer: tuple[bool, object]
        try:
            with language(spoken):
                answer = True, function(*arguments)
        except BreakangleError as error:
            answer = False, error
        except MemoryError:
            return
        line.send(answer)
