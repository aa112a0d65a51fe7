"""What workers of a test's fleet do in the place of a job: importable by them, and made to go wrong."""

import os
import resource
import signal
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from breakangle.fleet.items import Item
from breakangle.fleet.table import Answer

POISON = b"poison"


def count_and_die(name: str, items: Sequence[Item], settings: Mapping[str, Any]) -> list[Answer]:
    """Answer with the length of each item, as a row of `predict`; die over a poisoned one, as a crash would."""
    del settings
    assert name == "predict"
    for one in items:
        if one.content == POISON:
            os.kill(os.getpid(), signal.SIGKILL)
    return [_answer(one) for one in items]


def slow_count(name: str, items: Sequence[Item], settings: Mapping[str, Any]) -> list[Answer]:
    """As `count_and_die`, slowly, with a mark in a folder for every item begun and who does it."""
    for one in items:
        with (Path(settings["marks"]) / "begun").open("a") as file:
            file.write(f"{one.name} {os.getpid()}\n")
        time.sleep(settings["seconds"])
    return count_and_die(name, items, settings)


def _answer(one: Item) -> Answer:
    number = float(len(one.content))
    row = {"string": 1, "fret": 1, "clearance_mm": number, "clearance_uncertainty_mm": 0.1, "cents": 0.0,
           "cents_uncertainty": 1.0}  # fmt: skip
    return Answer(one.name, one.sha256, 0.0, (row,))


def interrupted(task: int) -> int:
    """Return the task after an interruption, as Ctrl+C sends it to every process of a terminal."""
    os.kill(os.getpid(), signal.SIGINT)
    time.sleep(0.1)
    return task


def squared(task: int) -> int:
    """Return the square; of 2 never, of 3 only by dying, of 5 by an error."""
    while task == 2:
        pass
    if task == 3:
        os.kill(os.getpid(), signal.SIGKILL)
    if task == 5:
        raise ValueError(task)
    return task * task


def pages_cleared(count: int) -> int:
    """Return how many pages the system clears for `count` arrays of a megabyte, one after the other."""
    before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
    for _ in range(count):
        np.ones(1 << 17)
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before
