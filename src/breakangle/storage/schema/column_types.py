"""Kinds of columns: moments as UTC text, prices as exact decimal text."""

from datetime import datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import Text
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator

from breakangle.storage.schema.stamp import from_utc_text, utc_text


class Moment(TypeDecorator[datetime]):
    """A moment, stored as UTC text."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:
        """Return the text to store."""
        del dialect
        return None if value is None else utc_text(value)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        """Return the moment stored."""
        del dialect
        return None if value is None else from_utc_text(value)


class Exact(TypeDecorator[Decimal]):
    """A decimal number, stored as its digits."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> str | None:
        """Return the digits to store."""
        del dialect
        return None if value is None else str(value)

    def process_result_value(self, value: Any, dialect: Dialect) -> Decimal | None:
        """Return the number stored."""
        del dialect
        return None if value is None else Decimal(value)
