"""A language in which every word differs from English by its vowels, and what in a text is not in it.

Its catalogue is made of the template of all words, so a word that no catalogue holds stays as it was and is seen.
"""

import html
import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

from breakangle.model.words import speech
from breakangle.procedures import shelf

# A locale with the numbers and days of English, so that only the words differ.
LOCALE, BROWSER = "en_AU", "en-AU"
ACCENTED = str.maketrans("aeiouyAEIOUY", "àéíóúýÀÉÍÓÚÝ")
KEPT = re.compile(r"(%[sr]|%\(\w+\)[sr]|\{[^{}]*\}|<[^<>]+>|&\w+;|`[^`]*`)")
# A word of English: three letters, a plain vowel among them. Keys, options and commands are no words.
WORD = re.compile(r"(?<![\w.{$/=#-])(?=\w*[aeiouy])[A-Za-z]{3,}(?![\w=({:/-]|\.\w)", re.ASCII)
KEYS = re.compile(
    r"`[^`]*`|\{[^}]*\}|'[^'\n]*'|[Bb]reakangle [a-z-]+|--?[\w-]+(=\S+)?|\b[A-Z]{2,}[A-Z_=/]*\b|\b\w+[-_=]\w+[\w-]*\b|"
    r"\S+\.(json|toml|pdf|svg|dxf|txt|html)\b|\S+@\S+…"
)
# What the system says of a file, in the system's language.
SYSTEM = "no such file or directory"
MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sept Sep Oct Nov Dec"


def accented(english: str) -> str:
    """Return a sentence in the made-up language, the places for values as they were."""
    return "".join(one if KEPT.fullmatch(one) else one.translate(ACCENTED) for one in KEPT.split(english))


def catalogue_of(template: Path) -> Catalog:
    """Return the made-up language's catalogue of a template of all words."""
    with template.open("rb") as file:
        found = read_po(file, locale="en")
    for message in found:
        if message.id:
            ids = message.id if isinstance(message.id, tuple) else (message.id,)
            said = tuple(accented(one) for one in ids)
            message.string = said if len(said) > 1 else said[0]
    return found


@contextmanager
def made_up(folder: Path) -> Iterator[str]:
    """Bring the made-up language's catalogue in from a folder for a block, and return the locale that speaks it."""
    place = folder / LOCALE / "LC_MESSAGES" / f"{speech.DOMAIN}.mo"
    place.parent.mkdir(parents=True)
    with place.open("wb") as file:
        write_mo(file, catalogue_of(speech.LOCALES / f"{speech.DOMAIN}.pot"))
    before, speech.LOCALES = speech.LOCALES, folder
    _forget()
    try:
        yield LOCALE
    finally:
        speech.LOCALES = before
        _forget()


def _forget() -> None:
    speech._catalogue.cache_clear()
    shelf._own_procedures.cache_clear()


def unchanged(text: str, data: Iterable[str]) -> list[str]:
    """Return the words of a text that are English still, each once, those of `data` left out."""
    known = {
        word.lower()
        for one in (*data, MONTHS, SYSTEM, "Breakangle", "min")
        for word in re.findall(r"[A-Za-z]+", one)
    }
    found = dict.fromkeys(WORD.findall(KEYS.sub(" ", text)))
    return [word for word in found if word.lower() not in known]


def visible(page: str) -> str:
    """Return what a page says: its text, and what its attributes say to eyes and ears."""
    shown = re.sub(r"<(script|style)\b.*?</\1>|<!--.*?-->", " ", page, flags=re.DOTALL)
    said = re.findall(r'\b(?:title|alt|aria-label|placeholder|data-[a-z-]*words)="([^"]*)"', shown)
    shown = re.sub(r"<(kbd|code|pre|option|textarea)\b.*?</\1>", " ", shown, flags=re.DOTALL)
    return html.unescape(" \n ".join([re.sub(r"<[^>]*>", " \n ", shown), *said]))


def texts_in(answer: object) -> list[str]:
    """Return what an answer to programs says in words: its texts with a space in them; keys have none, but units."""
    if isinstance(answer, dict):
        return [text for key, value in answer.items() if key != "unit" for text in texts_in(value)]
    if isinstance(answer, list):
        return [text for value in answer for text in texts_in(value)]
    return [answer] if isinstance(answer, str) and " " in answer else []


def typed_in(service: object, key: str = "") -> list[str]:
    """Return what a person wrote into a service file: names and notes, not its keys."""
    if isinstance(service, dict):
        return [text for name, value in service.items() for text in typed_in(value, name)]
    if isinstance(service, list):
        return [text for value in service for text in typed_in(value, key)]
    return (
        [service]
        if isinstance(service, str) and key in ("name", "notes", "complaint", "who", "words")
        else []
    )
