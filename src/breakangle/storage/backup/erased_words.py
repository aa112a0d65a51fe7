"""A person's words taken out of text: wherever they can only be that person's, and never out of what a program reads.

A shop writes "Ben" as readily as a whole name, and every bench has a "ben" in it; a customer may be called Rod.
"""

import json
import re
import unicodedata
from collections.abc import Iterable, Mapping
from typing import Any

from breakangle.storage.search.search import folded

GONE = "[erased]"
LEAST_LETTERS, LEAST_DIGITS = 3, 6
RESPELLED_DIGITS = 8  # fewer, however they are spaced, are as likely figures side by side
# What holds words of people; and what holds a program's own words, in which nobody is named.
TEXTS = frozenset({
    "name", "notes", "contact", "words", "text", "reason", "question", "caption", "complaint", "owner_words",
    "signed_by", "value",
})  # fmt: skip
STRUCTURE = frozenset({
    "format", "kind", "make", "wrap", "quantity", "adjust", "hand", "state", "unit", "group", "key", "record_table",
    "procedure", "media_type", "hash", "pdf_hash", "html_hash", "token_hash", "code_hash", "fingerprint", "id",
    "number", "version", "role", "shown", "amount",
})  # fmt: skip
BETWEEN = r"[ ()/.\-]*"  # the digits of a telephone number
MOMENT = re.compile(r"\d{4}-\d\d-\d\d(T[\d:.]+Z)?")  # as the records hold them
# What a contact says with figures that are nobody's number: since 2026-11, until 30.11.2026, after 17:00, from 5 pm.
_YEAR, _MONTH, _DAY = r"(?:19|20)\d\d", r"(?:0?[1-9]|1[0-2])", r"(?:0?[1-9]|[12]\d|3[01])"
WHEN = re.compile(
    rf"(?<![\d./:-])(?:{_YEAR}[-/.]{_MONTH}(?:[-/.]{_DAY})?|(?:{_DAY}[-/.])?{_DAY}[-/.]{_YEAR}"
    rf"|\d\d?[:.]\d\d|\d\d?(?=\s*[ap]m\b))(?![./:-]?\d)",
    re.IGNORECASE,
)
TAG = re.compile(r"(<style.*?</style>|<[^>]*>)", re.DOTALL)


def wide(words: str) -> bool:
    """Return whether a text is written without blanks between its words, as Chinese and Japanese are."""
    return any(unicodedata.east_asian_width(sign) in "WF" for sign in words)


def is_distinctive(words: str) -> bool:
    """Return whether this name can be nobody else's: of several words, an address, a long number, or in wide signs."""
    if wide(words):
        return len(words) > 1
    if not any(sign.isalpha() for sign in words):
        return _digits(words) >= LEAST_DIGITS
    return len(words) >= LEAST_LETTERS and ("@" in words or len(words.split()) > 1)


def leads_to_one(line: str) -> bool:
    """Return whether a line of a contact can be nobody else's: it has a number, that is no date or time, or an @.

    "Call evenings" and "New York" are anybody's, however many words they have.
    """
    return is_distinctive(line) and ("@" in line or _digits(WHEN.sub("", line)) > 0)


def is_a_number(words: str) -> bool:
    """Return whether these words are an e-mail address, or a number long enough to be nobody else's."""
    return "@" in words or _digits(WHEN.sub("", words)) >= LEAST_DIGITS


def _digits(words: str) -> int:
    return sum(sign.isdigit() for sign in words)


class ErasedWords:
    """What goes: `words` everywhere; `parts`, such as a first name, only in the person's own records and as words.

    `exact` are parts that are also words of the trade: they go only as they are written.
    """

    def __init__(self, words: Iterable[str], parts: Iterable[str], exact: Iterable[str] = ()) -> None:
        """Make the patterns once; there are many texts."""
        apart = frozenset(exact)
        loose = [one for one in parts if one not in apart]
        self._words = _pattern(_spelled(words), re.IGNORECASE)
        self._parts = [_pattern(_spelled(loose), re.IGNORECASE), _pattern(apart, re.NOFLAG)]

    def out_of(self, text: str, own: bool) -> str:
        """Return a text without the person."""
        text = self._words.sub(GONE, text)
        for pattern in self._parts if own else ():
            text = pattern.sub(GONE, text)
        return text

    def out_of_page(self, page: str, own: bool) -> str:
        """Return a page of HTML without the person; parts of the name go from its text, not from its tags and looks."""
        parts = TAG.split(self._words.sub(GONE, page))
        return "".join(part if at % 2 else self.out_of(part, own) for at, part in enumerate(parts))

    def out_of_value(self, name: str, text: str, own: bool) -> str:
        """Return a column's text, JSON or not, without the person; numbers and names of values stay as they are."""
        if name in STRUCTURE or MOMENT.fullmatch(text):
            return text
        if text[:1] in "{[":
            try:
                plain = json.loads(text)
            except ValueError:
                plain = None
            if isinstance(plain, dict | list):
                without = self._out_of_plain(name, plain, own)
                return text if without == plain else json.dumps(without, ensure_ascii=False)
        return self.out_of(text, own and self._may_name(name, text))

    def _out_of_plain(self, name: str, plain: Any, own: bool) -> Any:
        if isinstance(plain, str):
            return self.out_of_value(name, plain, own)
        if isinstance(plain, Mapping):
            return {key: self._out_of_plain(key, value, own) for key, value in plain.items()}
        if isinstance(plain, list):
            return [self._out_of_plain(name, one, own) for one in plain]
        return plain

    @staticmethod
    def _may_name(name: str, text: str) -> bool:
        if name in TEXTS:
            return True
        if name.endswith("_by"):  # who worked: as often somebody else of that first name
            return False
        return text != text.lower() or len(text.split()) > 1 or wide(text)


def _spelled(words: Iterable[str]) -> set[str]:
    """Return these words as they may be written elsewhere: composed or not, folded for a search, escaped."""
    forms: set[str] = set()
    for word in words:
        same = {word, unicodedata.normalize("NFC", word), unicodedata.normalize("NFD", word), folded(word)}
        forms |= same | {json.dumps(one)[1:-1] for one in same}
    return forms


def _pattern(forms: Iterable[str], flags: re.RegexFlag) -> re.Pattern[str]:
    told = [_bounded(form) for form in sorted(forms, key=len, reverse=True) if form]
    return re.compile("|".join(told) or r"(?!)", flags)


def _bounded(form: str) -> str:
    digits = [sign for sign in form if sign.isdigit()]
    if len(digits) >= LEAST_DIGITS and not any(sign.isalpha() for sign in form):
        if len(digits) < RESPELLED_DIGITS:
            return rf"(?<![\d.]){re.escape(form)}(?!\.?\d)"
        return rf"\+?(?<![\d.]){BETWEEN.join(digits)}(?!\d)"
    plain = re.escape(form)
    before = r"(?<!\w)" if form[0].isalnum() and not wide(form) else ""
    after = r"(?!\w)" if form[-1].isalnum() and not wide(form) else ""
    return before + plain + after
