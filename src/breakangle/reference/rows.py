"""Rows of the data files, read once: every row says where its figures come from."""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any, TypeVar

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import mark, tr

Row = Mapping[str, Any]
# The columns of the data files that hold words for people; all others are keys, figures and sources.
WORD_COLUMNS = frozenset({"words", "title", "told", "reason"})
Found = TypeVar("Found")


@cache
def read_table(name: str) -> Row:
    """One data file as it stands, by its path inside ``reference/data`` without the ending."""
    entry = files("breakangle.reference").joinpath("data", *f"{name}.toml".split("/"))
    return dict(_marked(tomllib.loads(entry.read_text(encoding="utf-8"))))


def _marked(row: Row) -> Row:
    """Return a row with its words marked, to be said in the language of whoever they are shown to."""
    return {
        key: _marked(value) if isinstance(value, dict) else _words(value) if key in WORD_COLUMNS else value
        for key, value in row.items()
    }


def _words(value: Any) -> Any:
    if isinstance(value, list):
        return [_words(one) for one in value]
    return mark(value) if isinstance(value, str) else value


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
