"""One piece of work in a process of its own: with a limit of memory and of time, and nothing left when it ends.

A process for each piece costs a fork of one that has the libraries loaded (some 20 ms). In return a picture that takes
too much memory, a decoder that never ends and one that crashes all end that process and no other.
"""

import multiprocessing
import os
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.connection import Connection
from typing import Any, TypeVar

from breakangle.model.errors import BreakangleError, ChooseAnotherFileError
from breakangle.model.words.speech import language, spoken_language, tr

MEGABYTE = 1 << 20
# What the process that all others are forked from has loaded.
READY = ("breakangle.services.listening.preloaded",)
Result = TypeVar("Result")


def in_process(
    function: Callable[..., Result],
    arguments: tuple[object, ...],
    most_mb: int,
    longest_s: float,
    gentle: bool = True,
) -> Result:
    """Return what the function returns, worked out in a process of its own; both it and its arguments are pickled.

    A `gentle` one lets pages go first; what holds a lock that others wait for must not.

    Raises:
        BreakangleError: as the function does.
        ChooseAnotherFileError: it took more memory or more time than it may, or crashed.
    """
    context = worker_context()
    ours, theirs = context.Pipe(duplex=False)
    given_over = theirs, function, arguments, most_mb, spoken_language(), gentle
    worker = context.Process(target=_work, args=given_over, daemon=True)
    try:
        worker.start()
        theirs.close()
        if not ours.poll(longest_s):
            given = tr("this took longer than {longest_s:.0f} s", longest_s=longest_s)
            raise ChooseAnotherFileError(given, tr("nothing was stored"), tr("try a smaller or shorter file"))
        good, answer = ours.recv()
    except (EOFError, OSError) as cause:
        given = tr("this file cannot be worked on: what reads it broke off")
        raise ChooseAnotherFileError(given, tr("nothing was stored"), tr("choose another")) from cause
    finally:
        ours.close()
        theirs.close()
        if worker.pid is not None:
            worker.kill()
            worker.join()
        worker.close()
    if good:
        result: Result = answer
        return result
    raise answer


def worker_context() -> Any:
    """Return how processes are begun here: where it can be done, forked from one that has the libraries loaded."""
    way = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
    context: Any = multiprocessing.get_context(way)
    if way == "forkserver":
        context.set_forkserver_preload(list(READY))
    return context


def _work(
    into: Connection,
    function: Callable[..., object],
    arguments: tuple[object, ...],
    most_mb: int,
    spoken: str,
    gentle: bool,
) -> None:
    with suppress(OSError, AttributeError):
        os.nice(5 if gentle else 0)  # pages come first
    limit_memory(most_mb)
    answer: tuple[bool, object]
    with language(spoken):
        try:
            answer = True, function(*arguments)
        except MemoryError:
            given = tr("this takes more than {most_mb} MB of memory", most_mb=most_mb)
            answer = False, ChooseAnotherFileError(given, tr("nothing was stored"), tr("make it smaller"))
        except BreakangleError as error:
            answer = False, error
        except Exception as error:
            error.__traceback__ = None
            answer = False, error
    into.send(answer)
    into.close()


def limit_memory(most_mb: int) -> None:
    """Allow so much more memory than the libraries have taken; where the system cannot limit it, it is not limited."""
    try:
        import resource
        from pathlib import Path

        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
        most = pages * resource.getpagesize() + most_mb * MEGABYTE
        resource.setrlimit(resource.RLIMIT_AS, (most, most))
    except (ImportError, OSError, ValueError):
        return
