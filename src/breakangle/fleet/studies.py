"""Simulation studies on a fleet's engine: one function over many tasks, each with so much processor time and no more.

    with local(workers=2, deaths=0) as engine:
        rows = study(serve, [(group, seed) for seed in range(60)], engine, seconds=60)

Answers come in the order of the tasks, whoever worked on them, so a study says the same on one machine and on many.
"""

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

from breakangle.fleet.engine import DEAD, Engine

Task = TypeVar("Task")
Found = TypeVar("Found")


def study(
    function: Callable[[Task], Found],
    tasks: Sequence[Task],
    engine: Engine,
    seconds: int | None = None,
    told: Callable[[int, int], None] = lambda done, total: None,
) -> list[Found | None]:
    """Return what a function makes of each task, in order; None where it took longer, or its worker fell over twice.

    Args:
        function: of one task; it and its answer are carried between processes.
        tasks: what to study.
        engine: where the work is done.
        seconds: processor time a task may take (not the clock: a busy machine makes nobody late); None: any.
        told: hears how many of how many are done.

    Raises:
        Exception: what the function raises; a study is not finished without one of its answers.
    """
    found: list[Found | None] = [None] * len(tasks)
    places = iter(range(len(tasks)))
    answers = engine.each(lambda place: (_timed, function, tasks[place], seconds), places)
    for done, (place, answer) in enumerate(answers, 1):
        found[place] = None if answer is DEAD else answer
        told(done, len(tasks))
    return found


def _timed(function: Callable[[Any], Any], task: Any, seconds: int | None) -> Any:
    """Do one task; the process that does it ends where the task takes longer."""
    if seconds is None:
        return function(task)
    import resource  # not on every system

    _, most = resource.getrlimit(resource.RLIMIT_CPU)
    used = resource.getrusage(resource.RUSAGE_SELF)
    resource.setrlimit(resource.RLIMIT_CPU, (int(used.ru_utime + used.ru_stime) + seconds + 1, most))
    try:
        return function(task)
    finally:
        resource.setrlimit(resource.RLIMIT_CPU, (most, most))
