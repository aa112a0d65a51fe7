"""What tells one instrument from its equals: the maker's serial number, and the tag the shop hangs on it.

Both stand in the instrument of a service file beside what the model asks for, so that they travel with it.
"""

import re
from collections.abc import Mapping
from typing import Any

SERIAL_NUMBER, SHOP_TAG = "serial_number", "shop_tag"
IDENTITY_MARKS = (SERIAL_NUMBER, SHOP_TAG)
LONGEST_MARK = 60
APART = re.compile(r"[\W_]+")


def identity_marks(instrument: Mapping[str, Any]) -> dict[str, str]:
    """Return the serial number and the shop's tag of an instrument's data, as far as they are told."""
    told = {name: instrument.get(name) for name in IDENTITY_MARKS}
    return {name: mark.strip() for name, mark in told.items() if isinstance(mark, str) and mark.strip()}


def plain_mark(mark: str) -> str:
    """Return a mark as it is compared: letters and digits only, without case."""
    return APART.sub("", mark).casefold()


def share_a_mark(one: Mapping[str, str], other: Mapping[str, str]) -> bool:
    """Return whether two instruments have the same serial number, or the same tag."""
    return any(plain_mark(mark) == plain_mark(other.get(name, "")) for name, mark in one.items())
