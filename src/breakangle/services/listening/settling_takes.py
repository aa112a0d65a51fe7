"""How one string settles, from takes plucked after one more stretch each."""

from collections.abc import Sequence

from breakangle.listening.naming.settling import Settling, settling
from breakangle.services.listening.takes import NamedTake, heard_of


def settling_of(takes: Sequence[NamedTake], tolerance_cents: float) -> Settling:
    """How one string settles, each take plucked after one more stretch."""
    heard = [heard_of(each.take) for each in takes]
    return settling([[one.partial_one_hz] for one in heard if one is not None], tolerance_cents)
