"""What can be done to every item: one file a job, found by listing this folder.

A job is a module with `WORDS` (one line for people), `ENDINGS` (which files of a folder it takes), `COLUMNS` (its own
columns: name, Arrow type and meaning) and `rows(item, settings)`, which returns the item's rows as dicts of plain
values. What it raises is kept as the item's failure.
"""

import importlib
import pkgutil
from collections.abc import Mapping, Sequence
from typing import Any, Protocol, cast

from breakangle.fleet.items import Item
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr


class Job(Protocol):
    """What a file of this folder offers."""

    WORDS: str
    ENDINGS: Sequence[str]
    COLUMNS: Sequence[tuple[str, str, str]]

    def rows(self, item: Item, settings: Mapping[str, Any]) -> list[dict[str, Any]]:
        """Return the rows of one item."""
        ...


def job_names() -> list[str]:
    """Return the names of all jobs."""
    return sorted(one.name for one in pkgutil.iter_modules(__path__))


def job_named(name: str) -> Job:
    """Return the job of this name.

    Raises:
        CorrectInputError: there is none; those there are are named.
    """
    if name not in job_names():
        raise CorrectInputError(
            tr("there is no job {name!r}", name=name),
            tr("there are {job_names}", job_names=", ".join(job_names())),
        )
    return cast(Job, importlib.import_module(f"{__name__}.{name}"))
