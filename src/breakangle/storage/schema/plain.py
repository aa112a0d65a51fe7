"""Rows as plain JSON values, and back: for the journal and for the export."""

import re
from collections.abc import Mapping
from decimal import Decimal
from math import isfinite
from typing import Any

from sqlalchemy import Column, Integer, Table, Text

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.storage.schema.column_types import Exact, Moment
from breakangle.storage.schema.stamp import from_utc_text, utc_text

FIRST_YEAR, LAST_YEAR = 1900, 2200  # of a moment that can be shown in every time zone
MOST_NUMBER = 2**31 - 1  # what both engines hold as an integer
EXACT = re.compile(r"[+-]?\d{1,15}(\.\d{1,6})?", re.ASCII)


def to_plain(table: Table, row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row with times as UTC text and decimals as digits, keys in the table's order."""
    plain: dict[str, Any] = {}
    for column in table.columns:
        value = row[column.name]
        if value is not None and isinstance(column.type, Moment):
            value = utc_text(value)
        elif value is not None and isinstance(column.type, Exact):
            value = str(value)
        plain[column.name] = value
    return plain


def from_plain(table: Table, plain: Mapping[str, Any]) -> dict[str, Any]:
    """Return the row that `to_plain` wrote, by this version or another.

    A column this version does not know is left out; one the other did not know is empty where it may be.

    Raises:
        CorrectInputError: a value that is not of its column's kind.
    """
    row: dict[str, Any] = {}
    for column in table.columns:
        if column.name not in plain and not column.nullable:
            continue
        value = plain.get(column.name)
        if value is not None and not _fits(column, value):
            raise CorrectInputError(
                tr("{column} holds {value!r}", column=column, value=value), "", tr("take another copy")
            )
        if value is not None and isinstance(column.type, Moment):
            value = from_utc_text(value)
        elif value is not None and isinstance(column.type, Exact):
            value = Decimal(value)
        row[column.name] = value
    return row


def can_be_stored(words: str) -> bool:
    """Return whether both engines can hold the text: no NUL sign, and no half of a sign."""
    try:
        words.encode()
    except UnicodeEncodeError:
        return False
    return "\0" not in words


def _fits(column: Column[Any], value: Any) -> bool:
    """Return whether a JSON value is of the kind that the column holds; times, digits and bodies are text."""
    if isinstance(column.type, Moment):
        return isinstance(value, str) and FIRST_YEAR <= from_utc_text(value).year <= LAST_YEAR
    if isinstance(column.type, Exact):
        return isinstance(value, str) and EXACT.fullmatch(value) is not None
    if isinstance(column.type, Text):
        return isinstance(value, str) and can_be_stored(value)
    whole = isinstance(column.type, Integer)
    if not isinstance(value, int if whole else int | float) or isinstance(value, bool):
        return False
    return isfinite(value) and abs(value) <= MOST_NUMBER
