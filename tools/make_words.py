"""Write the template of all words, renew each language's catalogue and compile it: `python tools/make_words.py`.

The sentences come from `tr`, `tr_n` and `mark` in the code, from the keyed messages and screen words (TOML), and from
the word columns of the data files. `python tools/make_words.py de` begins a language. A test holds that the template is
what this would write now.
"""

import re
import sys
import tomllib
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from breakangle.model.words.speech import DOMAIN
from breakangle.procedures.shelf import WORD_COLUMNS as PROCEDURE_COLUMNS
from breakangle.reference.messages import catalogue as messages
from breakangle.reference.rows import WORD_COLUMNS
from breakangle.web.texts import catalogue as screens

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "src" / "breakangle"
LOCALES = PACKAGE / "locale"
TEMPLATE = LOCALES / f"{DOMAIN}.pot"
KEYWORDS = {"tr": None, "mark": None, "tr_n": (1, 2)}
WIDTH = 110
DATED = re.compile(r'^"(POT-Creation-Date|PO-Revision-Date|Generated-By): .*\\n"\n', re.MULTILINE)


def in_code() -> Iterator[tuple[str, Any]]:
    """Yield each sentence of the code with the file it stands in; a plural is a pair."""
    for path in sorted(PACKAGE.rglob("*.py")):
        if "node_modules" in path.parts:
            continue
        with path.open("rb") as file:
            for _, sentence, _, _ in extract("python", file, KEYWORDS, options={"encoding": "utf-8"}):
                yield path.relative_to(PACKAGE).as_posix(), sentence


def in_data() -> Iterator[tuple[str, str]]:
    """Yield each sentence in a word column of the data files, with its file."""
    for folder, columns in (("reference/data", WORD_COLUMNS), ("procedures/data", PROCEDURE_COLUMNS)):
        for path in sorted((PACKAGE / folder).rglob("*.toml")):
            rows = tomllib.loads(path.read_text(encoding="utf-8"))
            for sentence in _words(rows, columns, ""):
                yield path.relative_to(PACKAGE).as_posix(), sentence


def _words(row: Any, columns: frozenset[str], column: str) -> Iterator[str]:
    if isinstance(row, dict):
        for key, value in row.items():
            yield from _words(value, columns, key)
    elif isinstance(row, list):
        for one in row:
            yield from _words(one, columns, column)
    elif isinstance(row, str) and column in columns:
        yield row


def template() -> Catalog:
    """Return every sentence and word that a person may be shown, with where it stands."""
    made = Catalog(
        project="Breakangle", copyright_holder="", fuzzy=False, header_comment="# All words, in English."
    )
    for place, sentence in (*in_code(), *in_data()):
        if sentence and sentence != ("",):
            made.add(sentence, locations=[(place, 0)], flags=_flags(sentence))
    for place, keyed in (("reference/messages/en", messages()), ("web/texts/en.toml", screens())):
        for key, english in keyed.items():
            made.add(english, locations=[(place, 0)], flags=_flags(english), context=key)
    return made


def _flags(sentence: Any) -> list[str]:
    """Return the mark by which an editor of catalogues watches over the places in braces."""
    texts = sentence if isinstance(sentence, tuple) else (sentence,)
    return ["python-brace-format"] if any("{" in one for one in texts) else []


def text_of(catalogue: Catalog) -> str:
    """Return a catalogue as it is written, without the days of its making: they would change it every day."""
    out = BytesIO()
    write_po(out, catalogue, width=WIDTH, sort_output=True, include_lineno=False)
    return DATED.sub("", out.getvalue().decode())


def renew(language: str) -> int:
    """Bring a language's catalogue on to the words of now, compile it, and return how many are not translated."""
    place = LOCALES / language / "LC_MESSAGES" / f"{DOMAIN}.po"
    catalogue = Catalog(locale=language, project="Breakangle", fuzzy=False)
    if place.exists():
        with place.open("rb") as file:
            catalogue = read_po(file, locale=language, domain=DOMAIN)
    catalogue.update(template(), no_fuzzy_matching=True)
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_text(text_of(catalogue), encoding="utf-8")
    with place.with_suffix(".mo").open("wb") as file:
        write_mo(file, catalogue)
    return sum(not message.string for message in catalogue if message.id)


def main(languages: list[str]) -> None:
    """Write the template and every catalogue, those of `languages` too where there is none yet."""
    LOCALES.mkdir(exist_ok=True)
    TEMPLATE.write_text(text_of(template()), encoding="utf-8")
    for language in sorted({*languages, *(path.name for path in LOCALES.iterdir() if path.is_dir())}):
        print(f"{language}: {renew(language)} sentences are not translated yet")  # noqa: T201


if __name__ == "__main__":
    main(sys.argv[1:])
