"""A day in the past as it is typed: of what is entered later than it happened."""

import re
from datetime import UTC, datetime

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr

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
    given = tr('the day is "{typed}"', typed=typed[:20])
    allowed = tr(
        "a day from {earliest_year} to today, such as 2027-03-01, or 2027-03-01 14:30",
        earliest_year=EARLIEST_YEAR,
    )
    if not is_day(typed):
        raise CorrectInputError(given, allowed, tr("type it again"))
    try:
        moment = datetime.fromisoformat(typed)
        here = (moment if len(typed) > len("2027-03-01") else moment.replace(hour=NOON)).astimezone()
    except (ValueError, OverflowError, OSError) as cause:
        raise CorrectInputError(given, allowed, tr("type it again")) from cause
    at = here.astimezone(UTC)
    if here.date() == now.astimezone().date():
        return min(at, now)
    if here.year < EARLIEST_YEAR or at > now:
        raise CorrectInputError(given, allowed, tr("type it again"))
    return at
