"""Strings that were read to lie on a crown: said until the place is read clear, or work has surely cleared it."""

from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.planning.kinds.readings.gap import RESTING_MM, RESTING_SPREAD_MM, Gap
from breakangle.planning.verdict.moved import SURE_SPREADS, Worked, last_readings

# "Nothing" stands for anything down to about a fifth of a millimetre below it: from the reading's own spread; derived.
DEEPEST_MM = -RESTING_MM + SURE_SPREADS * RESTING_SPREAD_MM


def resting(service: Service, worked: Worked) -> tuple[Gap, ...]:
    """Return the last readings of places where the string was found to lie on the crown, unanswered."""
    return tuple(
        one
        for one in last_readings(service.readings)
        if isinstance(one, Gap) and one.mm <= 0.0 and not worked.since(one).surely_up(DEEPEST_MM)
    )


def standing_readings(service: Service, worked: Worked) -> tuple[Reading, ...]:
    """Return the last reading of every place whose remark still stands: just taken, or of a string on a crown."""
    kept = resting(service, worked)
    here = len(service.work)
    return tuple(
        one
        for one in last_readings(service.readings)
        if (one.after == here and not isinstance(one, Gap)) or one in kept
    )
