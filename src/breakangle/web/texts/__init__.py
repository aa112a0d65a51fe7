"""The words on the screens: one TOML file a language, found by listing this folder; English fills what is missing.

What families, makes and wraps are called in English stands in their own rows of the tables.
"""

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from markupsafe import Markup, escape

from breakangle.reference.families import families, family
from breakangle.reference.strings import make, makes, wrap, wraps

FOLDER = Path(__file__).parent
FIRST = "en"


@cache
def catalogue(language: str) -> dict[str, str]:
    """Return a language's words by their dotted names."""
    with (FOLDER / f"{language}.toml").open("rb") as file:
        own = dict(_flat(tomllib.load(file), ""))
    return {**_tables_words(), **own} if language == FIRST else own


def _tables_words() -> dict[str, str]:
    """Return what families, makes and wraps are called, by dotted names."""
    return {
        **{f"kinds.{key}": family(key).words for key in families()},
        **{f"makes.{key}": make(key).title for key in makes()},
        **{f"wraps.{key}": wrap(key).words for key in wraps()},
    }


def _flat(table: dict[str, Any], path: str) -> list[tuple[str, str]]:
    found = []
    for key, value in table.items():
        place = f"{path}{key}"
        found += _flat(value, f"{place}.") if isinstance(value, dict) else [(place, str(value))]
    return found


def languages() -> tuple[str, ...]:
    """Return the languages there are."""
    return tuple(sorted(path.stem for path in FOLDER.glob("*.toml")))


def language_of(locale: str) -> str:
    """Return the catalogue to read for a locale: its own language where there is one, else English."""
    spoken = locale.split("_")[0]
    return spoken if spoken in languages() else FIRST


def words(language: str, name: str, /, **given: Any) -> str:
    """Return the words called `name`, with what was given put in; a name that nobody wrote shows itself."""
    for one in (language, FIRST):
        found = catalogue(one).get(name)
        if found is not None:
            if any(isinstance(value, Markup) for value in given.values()):
                return Markup(found).format(**{key: escape(value) for key, value in given.items()})
            return found.format(**given) if given else found
    return name
