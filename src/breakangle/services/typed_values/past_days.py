"""A day in the past as it is typed: of what is entered later than it happened."""

import re
from datetime import UTC, datetime

from breakangle.model.errors import CorrectInputError

DAY = re.compile(r"\d{4}-\d{2}-\d{2}([ T]\d{2}:\d{2})?")
EARLIEST_YEAR = 1950  # chosen: before that nobody wrote such figures down
NOON = 12


def is_day(text: str) -> bool:
    """Return whether the text is spelled as a day, with or without a time."""
    return DAY.fullmatch(text.strip()) is not None


def day_typed(text: str, now: datetime) -> datetime | None:
    """Return the moment that was typed, a bare day being its noon on this computer's clock; None where nothing was.

    Raises:
        CorrectInputError: no day, or one that is still to come.
    """
    typed = text.strip()
    if not typed:
        return None
    given = f'the day is "{typed[:20]}"'
    allowed = f"a day from {EARLIEST_YEAR} to today, such as 2027-03-01, or 2027-03-01 14:30"
    if not is_day(typed):
        raise CorrectInputError(given, allowed, "type it again")
    try:
        moment = datetime.fromisoformat(typed)
        here = (moment if len(typed) > len("2027-03-01") else moment.replace(hour=NOON)).astimezone()
    except (ValueError, OverflowError, OSError) as cause:
        raise CorrectInputError(given, allowed, "type it again") from cause
    at = here.astimezone(UTC)
    if here.date() == now.astimezone().date():
        return min(at, now)
    if here.year < EARLIEST_YEAR or at > now:
        raise CorrectInputError(given, allowed, "type it again")
    return at
