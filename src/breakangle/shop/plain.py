"""Rows as plain JSON values, and back: for the journal and for the export."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from sqlalchemy import Table

from breakangle.shop.stamp import from_utc_text, utc_text
from breakangle.shop.tables import Exact, Moment


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
    """
    row: dict[str, Any] = {}
    for column in table.columns:
        if column.name not in plain and not column.nullable:
            continue
        value = plain.get(column.name)
        if value is not None and isinstance(column.type, Moment):
            value = from_utc_text(value)
        elif value is not None and isinstance(column.type, Exact):
            value = Decimal(value)
        row[column.name] = value
    return row
