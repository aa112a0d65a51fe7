"""Rows of the data files, read once: every row says where its figures come from."""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any, TypeVar

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr

Row = Mapping[str, Any]
Found = TypeVar("Found")


@cache
def read_table(name: str) -> Row:
    """One data file as it stands, by its path inside ``reference/data`` without the ending."""
    entry = files("breakangle.reference").joinpath("data", *f"{name}.toml".split("/"))
    return tomllib.loads(entry.read_text(encoding="utf-8"))


def file_names(folder: str) -> tuple[str, ...]:
    """Names, without the ending, of the data files in a folder of ``reference/data``, sorted."""
    entries = files("breakangle.reference").joinpath("data", folder).iterdir()
    return tuple(sorted(e.name.removesuffix(".toml") for e in entries if e.name.endswith(".toml")))


def look_up(what: str, key: str, known: Mapping[str, Found]) -> Found:
    """The row under ``key``.

    Raises:
        CorrectInputError: no such row; the error names those there are.
    """
    try:
        return known[key]
    except KeyError:
        raise CorrectInputError(
            tr("{what} {key!r} is not in the tables", what=what, key=key),
            tr("known are {known}", known=", ".join(sorted(known))),
            tr("use one of these, or add a row with its source"),
        ) from None
