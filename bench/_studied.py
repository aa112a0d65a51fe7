"""Where a bench's tasks are done: on a fleet's engine (here, or the workers of a scheduler), or each apart.

One engine serves a whole run: it starts with the first task and ends with the program. What a task comes to does not
hang on where it is done, so the tables are the same; `--engine apart` gives every task a process of its own.
"""

import argparse
import atexit
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from typing import Any, Protocol

from bench.workshop.apart import each_apart

ENGINES = ("local", "apart")


class Each(Protocol):
    """Does a function on every task; None where one took more processor time than `seconds`, or fell over."""

    def __call__(
        self, function: Callable[[Any], Any], tasks: Sequence[Any], workers: int, seconds: int, /
    ) -> list[Any]:
        """Return what the function makes of each task, in order."""
        ...


class OnEngine:
    """Does tasks on one engine, begun with the first of them: of this machine, or of a scheduler's workers."""

    def __init__(self, scheduler: str | None = None, keys: str | None = None) -> None:
        self.scheduler, self.keys = scheduler, keys
        self._begun: dict[int, Any] = {}

    def __call__(
        self, function: Callable[[Any], Any], tasks: Sequence[Any], workers: int, seconds: int, /
    ) -> list[Any]:
        """Return what the function makes of each task, in order."""
        from breakangle.fleet.studies import study

        count = 0 if self.scheduler else workers
        if count not in self._begun:
            self._begun[count] = self._begin(workers)
        return study(function, tasks, self._begun[count], seconds)

    def _begin(self, workers: int) -> Any:
        from breakangle.fleet.engine import elsewhere, local
        from breakangle.fleet.keys import keys_in

        stack = ExitStack()
        atexit.register(stack.close)
        if self.scheduler:
            return stack.enter_context(elsewhere(self.scheduler, keys_in(self.keys) if self.keys else None))
        return stack.enter_context(local(workers, deaths=0))


LOCAL: Each = OnEngine()


def add_engine(parser: argparse.ArgumentParser) -> None:
    """Add the options that say where tasks are done."""
    parser.add_argument(
        "--engine", choices=ENGINES, default=ENGINES[0], help="processes of a fleet, or each apart"
    )
    parser.add_argument("--scheduler", metavar="ADDRESS", help="a scheduler's workers in their place")
    parser.add_argument("--keys", metavar="FOLDER", help="the scheduler's certificates")


def each_asked(arguments: argparse.Namespace) -> Each:
    """Return what does the tasks, as the options say."""
    if arguments.scheduler:
        return OnEngine(arguments.scheduler, arguments.keys)
    return each_apart if arguments.engine == "apart" else LOCAL
