"""Sentences in a person's language: `tr` where one is said, `mark` where one stands as data until it is shown.

The English sentence is its own name in the catalogues (gettext), so English costs no look-up. A catalogue is a folder
`locale/<language>/LC_MESSAGES/breakangle.mo`; CONTRIBUTING says how one is added. The language belongs to the running
request or command: `language` sets it for a block.
"""

import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from gettext import GNUTranslations

DOMAIN, ENGLISH = "breakangle", "en"
VARIABLES = ("BREAKANGLE_LANGUAGE", "LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG")
LOCALES = Path(__file__).parents[2] / "locale"
S = TypeVar("S", bound=str)

# The catalogue of the running request or command; None is English.
_spoken: ContextVar["tuple[str, GNUTranslations] | None"] = ContextVar("spoken", default=None)


class Marked(str):
    """A sentence that stands as data: it turns into the language spoken when it is put in a sentence, cut or shown.

    As a key it stays what it is: it compares and hashes as its English. Joining (`", ".join`) takes it as it is, too:
    join `map(str, sentences)`.
    """

    __slots__ = ()


def _said(name: str) -> Callable[..., Any]:
    """Return a method of text that first turns a marked sentence into the language spoken."""
    of_text = getattr(str, name)

    def method(self: Marked, *arguments: Any, **named: Any) -> Any:
        return of_text(tr(self), *arguments, **named)

    return method


_SAYING = (
    "__str__ __format__ __add__ __getitem__ __iter__ capitalize lower upper title format replace strip rstrip lstrip "
    "translate expandtabs splitlines encode center ljust rjust split partition rpartition removesuffix removeprefix"
)
for _name in _SAYING.split():
    setattr(Marked, _name, _said(_name))
setattr(Marked, "__radd__", lambda self, before: before + str(tr(self)))  # noqa: B010


def mark(sentence: S) -> S:
    """Return a sentence that stands as data, to be translated where it is shown: by `tr`, `str` or a sentence."""
    return Marked(sentence)  # type: ignore[return-value]


def tr(sentence: str, /, **values: Any) -> str:
    """Return a sentence in the language spoken, with its values put in as `str.format` does; none, none put in."""
    spoken = _spoken.get()
    words = sentence if spoken is None or not sentence else spoken[1].gettext(sentence)
    return words.format(**values) if values else words


def tr_n(one: str, more: str, count: float, /, **values: Any) -> str:
    """Return the sentence for so many of a thing, as the language spoken counts, with its values put in."""
    spoken = _spoken.get()
    english = one if count == 1 else more
    words = english if spoken is None else spoken[1].ngettext(one, more, int(count))
    return words.format(**values) if values else words


def tr_key(key: str, english: str) -> str:
    """Return the words of a key (`topic.name`) in the language spoken; nothing is put in."""
    spoken = _spoken.get()
    return english if spoken is None or not english else spoken[1].pgettext(key, english)


def capital(words: str) -> str:
    """Return words that begin a sentence: a capital first, the rest as it is (nouns of other languages keep theirs)."""
    return words[:1].upper() + words[1:]


def spoken_language() -> str:
    """Return the language spoken, such as `en`: what is stored to be shown again is stored for one language."""
    spoken = _spoken.get()
    return ENGLISH if spoken is None else spoken[0]


@contextmanager
def language(locale: str) -> Iterator[None]:
    """Speak a locale's language in a block: `de` for a `de_AT` without words of its own, English for neither."""
    before = _spoken.set(_found(locale))
    try:
        yield
    finally:
        _spoken.reset(before)


def language_of_environment(environment: Mapping[str, str] = os.environ) -> str:
    """Return the locale that the environment asks for, such as `de_AT`; English where it asks for none."""
    asked = next((environment[name] for name in VARIABLES if environment.get(name)), ENGLISH)
    return asked.split(":")[0].split(".")[0].split("@")[0]


def _found(locale: str) -> "tuple[str, GNUTranslations] | None":
    for name in (locale, locale.split("_")[0]):
        catalogue = _catalogue(name) if name.replace("_", "").isalnum() else None
        if catalogue is not None:
            return name, catalogue
    return None


@cache
def _catalogue(name: str) -> "GNUTranslations | None":
    from gettext import GNUTranslations  # English needs none

    place = LOCALES / name / "LC_MESSAGES" / f"{DOMAIN}.mo"
    if not place.is_file():
        return None
    with place.open("rb") as file:
        return GNUTranslations(file)
