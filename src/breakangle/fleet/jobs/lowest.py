"""How low every instrument can go: one row a string."""

from collections.abc import Mapping
from typing import Any

from breakangle.fleet.items import SERVICES, Item
from breakangle.model.words.speech import mark

WORDS = mark("how low each neck can go without a touch being heard")
ENDINGS = SERVICES
COLUMNS = (
    ("string", "int32", mark("string number, 1 the highest")),
    (
        "relief_mm",
        "double",
        mark("sag of the board between first and joint fret at which action_mm is had, mm"),
    ),
    (
        "action_mm",
        "double",
        mark("gap over the 12th fret with the first held above which nothing is heard, mm"),
    ),
    ("action_to_set_mm", "double", mark("the action to set: no lower than anybody sets this kind, mm")),
    ("nut_clearance_mm", "double", mark("gap of the open string over its first crown, mm")),
    ("action_now_mm", "double", mark("the action as it is, mm")),
    ("relief_to_set_mm", "double", mark("the relief to set with action_to_set_mm, mm")),
    ("nut_clearance_to_set_mm", "double", mark("the clearance that then is at the nut, mm")),
)


def rows(item: Item, settings: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return a row for each string; `settings["strength"]` is how hard it is played (medium).

    Raises:
        BreakangleError: what the lowest set-up of one service raises.
    """
    from breakangle.library.touching import lowest
    from breakangle.services.service_files.service import service_from

    service = service_from(item.content, item.name)
    found = lowest(service, settings.get("strength") or "medium", earlier=item.earlier_services())
    return [
        {
            "string": int(string),
            "relief_mm": found.relief_mm,
            "action_mm": float(found.action_mm[place]),
            "action_to_set_mm": float(found.action_to_set_mm[place]),
            "nut_clearance_mm": float(found.nut_clearance_mm[place]),
            "action_now_mm": float(found.action_now_mm[place]),
            "relief_to_set_mm": found.relief_to_set_mm,
            "nut_clearance_to_set_mm": float(found.nut_clearance_to_set_mm[place]),
        }
        for place, string in enumerate(found.strings)
    ]
