"""The words on the screens, in English by their dotted names; translated as all words.

What families, makes and wraps are called stands in their own rows of the tables.
"""

import tomllib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

from markupsafe import Markup, escape

from breakangle.model.words.speech import tr_key
from breakangle.reference.families import families, family
from breakangle.reference.strings import make, makes, wrap, wraps

FILE = Path(__file__).parent / "en.toml"


@cache
def catalogue() -> dict[str, str]:
    """Return the English words by their dotted names."""
    with FILE.open("rb") as file:
        return dict(_flat(tomllib.load(file), ""))


@cache
def _of_tables() -> dict[str, Callable[[], str]]:
    """Return what families, makes and wraps are called, by dotted names: their rows say it in the language spoken."""
    return {
        **{f"kinds.{key}": lambda key=key: str(family(key).words) for key in families()},  # type: ignore[misc]
        **{f"makes.{key}": lambda key=key: str(make(key).title) for key in makes()},  # type: ignore[misc]
        **{f"wraps.{key}": lambda key=key: str(wrap(key).words) for key in wraps()},  # type: ignore[misc]
    }


def _flat(table: dict[str, Any], path: str) -> list[tuple[str, str]]:
    found = []
    for key, value in table.items():
        place = f"{path}{key}"
        found += _flat(value, f"{place}.") if isinstance(value, dict) else [(place, str(value))]
    return found


def words(name: str, /, **given: Any) -> str:
    """Return the words called `name`, with what was given put in; a name that nobody wrote shows itself."""
    english = catalogue().get(name)
    if english is None:
        return _of_tables()[name]() if name in _of_tables() else name
    found = tr_key(name, english)
    if any(isinstance(value, Markup) for value in given.values()):
        return Markup(found).format(**{key: escape(value) for key, value in given.items()})
    return found.format(**given) if given else found
