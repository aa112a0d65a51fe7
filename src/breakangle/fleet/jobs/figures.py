"""Every figure of the trade of every instrument, as it reads now and as it is wanted: one row a figure."""

from collections.abc import Mapping
from typing import Any

from breakangle.fleet.items import SERVICES, Item

WORDS = "relief, action, nut clearance and intonation of each instrument, beside what is wanted"
ENDINGS = SERVICES
DIGITS = 6  # a thousandth of what any gauge tells
COLUMNS = (
    ("figure", "string", "relief, action, nut clearance or intonation"),
    ("string", "int32", "string number, 1 the highest"),
    ("fret", "int32", "where it is read"),
    ("value", "double", "as it reads now, in `unit`"),
    ("uncertainty", "double", "its standard deviation, in `unit`"),
    ("wanted", "double", "its target, in `unit`"),
    ("tolerance", "double", "how far from the target is still right, in `unit`"),
    ("unit", "string", "mm or cents"),
)


def rows(item: Item, settings: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return a row for each figure.

    Raises:
        BreakangleError: what the estimate of one service raises.
    """
    from breakangle.planning.estimate.house_targets import targets_of
    from breakangle.planning.estimate.target_state import sight_of
    from breakangle.planning.kinds.registry import reading_kind, target_kind
    from breakangle.services.service_files.service import estimate_service, service_from

    del settings
    service = service_from(item.content, item.name)
    now = estimate_service(service)
    wishes = targets_of(service, now.board)
    sight, found = sight_of(now.stated, wishes.wanted), []
    for place, target in enumerate(sight.targets):
        reading = sight.reading(place)
        found.append(
            {
                "figure": str(target_kind(target).role(target)[0]),
                "string": reading.string,
                "fret": reading.fret,
                "value": _told(sight.value[place]),
                "uncertainty": _told(sight.spread[place]),
                "wanted": _told(sight.value[place] - sight.off[place]),
                "tolerance": _told(sight.tolerance[place]),
                "unit": reading_kind(reading).unit,
            }
        )
    return found


def _told(value: float) -> float:
    return round(float(value), DIGITS)
