"""Who did a thing and when; and names for records that stay unique wherever shops are merged."""

import os
import secrets
import threading
from dataclasses import dataclass
from datetime import UTC, datetime

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr

LETTERS = "0123456789abcdefghjkmnpqrstvwxyz"  # no i, l, o, u: read aloud and written on labels
_ONE_AT_A_TIME, _LAST = threading.Lock(), dict[int, int]()
NOBODY_NAMED = "bench"  # who did it, where no person gave a name: the account's name is not a person's
ID_LENGTH, RANDOM_BITS, LETTER_BITS = 20, 50, 5
TEXT_LENGTH = len("2027-03-01T09:30:00.000000Z")


@dataclass(frozen=True)
class Stamp:
    """One person at one moment; `at` carries its time zone."""

    who: str
    at: datetime

    def __post_init__(self) -> None:
        """Refuse a nameless hand and a time of nowhere.

        Raises:
            CorrectInputError: an empty name, or a time without zone.
        """
        if not self.who.strip():
            raise CorrectInputError(
                tr("no name is given"), tr("every entry says who made it"), tr("give a name")
            )
        if self.at.tzinfo is None:
            raise CorrectInputError(tr("{at} has no time zone", at=self.at), "", tr("give one, such as UTC"))


def new_id(at: datetime) -> str:
    """Return a new record's name: 20 letters and digits that sort by time, of 50 random bits.

    Names made one after another in one process for the same millisecond sort in the order they were made.
    """
    moment = int(at.timestamp() * 1000)
    with _ONE_AT_A_TIME:
        before = _LAST.get(os.getpid(), 0)
        number = (moment << RANDOM_BITS) | secrets.randbits(RANDOM_BITS)
        if before >> RANDOM_BITS == moment:
            number = before + 1
        _LAST.clear()  # a forked process must not go on from where its parent was
        _LAST[os.getpid()] = number
    places = range(LETTER_BITS * (ID_LENGTH - 1), -1, -LETTER_BITS)
    return "".join(LETTERS[(number >> place) & 31] for place in places)


def utc_text(at: datetime) -> str:
    """Return the moment in UTC as text that sorts by time: 2027-03-01T09:30:00.000000Z."""
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def from_utc_text(text: str) -> datetime:
    """Return the moment that `utc_text` wrote.

    Raises:
        ValueError: a text of another form.
    """
    # Not strptime, which takes twenty times as long: a long list is made of thousands of moments.
    if len(text) != TEXT_LENGTH or text[-1] != "Z":
        return datetime.strptime(text, "%Y-%m-%dT%H:%M:%S.%fZ").replace(tzinfo=UTC)
    return datetime.fromisoformat(text)
