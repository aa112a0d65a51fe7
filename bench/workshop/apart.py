"""Tasks in processes of their own, two at a time, each with so many seconds of processor time and no more.

A planner that never comes to an end must not stop the bench: its instrument is told as late. Processor time, not the
clock: a busy machine makes nobody late.
"""

import multiprocessing
import resource
from collections.abc import Callable, Sequence
from multiprocessing.connection import Connection, wait
from typing import Any, TypeVar

Task = TypeVar("Task")
Found = TypeVar("Found")


def _done(function: Callable[[Any], Any], task: Any, seconds: int, answer: Connection) -> None:
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 5))
    answer.send(function(task))
    answer.close()


def each_apart(
    function: Callable[[Task], Found], tasks: Sequence[Task], workers: int, seconds: int
) -> list[Found | None]:
    """Return what the function makes of each task, in order; None where it took longer, or fell over."""
    context = multiprocessing.get_context("fork")
    found: list[Found | None] = [None] * len(tasks)
    waiting = list(enumerate(tasks))[::-1]
    running: dict[Connection, tuple[int, multiprocessing.process.BaseProcess]] = {}
    while waiting or running:
        while waiting and len(running) < workers:
            place, task = waiting.pop()
            here, there = context.Pipe(duplex=False)
            process = context.Process(target=_done, args=(function, task, seconds, there))
            process.start()
            there.close()
            running[here] = (place, process)
        for answer in wait(list(running)):
            place, process = running.pop(answer)  # type: ignore[arg-type]
            try:
                found[place] = answer.recv()  # type: ignore[union-attr]
            except EOFError:
                found[place] = None
            process.join()
    return found
