"""Every figure of the trade of every instrument, as it reads now and as it is wanted: one row a figure."""

from collections.abc import Mapping
from typing import Any

from breakangle.fleet.items import SERVICES, Item
from breakangle.model.words.speech import mark

WORDS = mark("relief, action, nut clearance and intonation of each instrument, beside what is wanted")
ENDINGS = SERVICES
DIGITS = 6  # a thousandth of what any gauge tells
COLUMNS = (
    ("figure", "string", mark("relief, action, nut clearance or intonation")),
    ("string", "int32", mark("string number, 1 the highest")),
    ("fret", "int32", mark("where it is read")),
    ("value", "double", mark("as it reads now, in `unit`")),
    ("uncertainty", "double", mark("its standard deviation, in `unit`")),
    ("wanted", "double", mark("its target, in `unit`")),
    ("tolerance", "double", mark("how far from the target is still right, in `unit`")),
    ("unit", "string", mark("mm or cents")),
    ("read", "bool", mark("whether a gauge or an ear has read it; else it is reckoned from what was")),
)


def rows(item: Item, settings: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return a row for each figure.

    Raises:
        BreakangleError: what the estimate of one service raises.
    """
    from breakangle.planning.estimate.house_targets import targets_of
    from breakangle.planning.estimate.target_state import sight_of
    from breakangle.planning.kinds.registry import reading_kind, target_kind
    from breakangle.planning.verdict.as_read import taken, was_read
    from breakangle.services.service_files.service import estimate_service, service_from

    del settings
    service = service_from(item.content, item.name)
    now = estimate_service(service, item.earlier_services())
    wishes = targets_of(service, now.board)
    sight, known, found = sight_of(now.stated, wishes.wanted), taken(service.readings), []
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
                "read": was_read(target, known),
            }
        )
    return found


def _told(value: float) -> float:
    return round(float(value), DIGITS)
