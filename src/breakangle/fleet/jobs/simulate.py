"""Every design's tolerance budget by simulation: one row a dimension, the one it hangs on most first."""

from collections.abc import Mapping
from typing import Any

from breakangle.fleet.items import SERVICES, Item
from breakangle.model.words.speech import mark

WORDS = mark("what the action of each design hangs on, over builds drawn as near as they are built")
ENDINGS = SERVICES
DIGITS = 6  # a thousandth of what any gauge tells
COLUMNS = (
    ("dimension", "string", mark("a dimension of the build, with its unit")),
    ("nominal", "double", mark("what it is meant to be, in its unit")),
    ("spread", "double", mark("how near it is built, one standard deviation, in its unit")),
    ("slope", "double", mark("what one unit of it does to the action, mm")),
    ("share", "double", mark("its share of the action's variance, by slopes")),
    ("drawn_share", "double", mark("the same over builds in which it alone is drawn")),
    ("action_mm", "double", mark("the design's action over the 12th fret, open, mean of the strings, mm")),
    ("action_spread_mm", "double", mark("its standard deviation by slopes, mm")),
    ("drawn_spread_mm", "double", mark("the same over builds in which all are drawn, mm")),
    ("builds", "int32", mark("how many builds were drawn")),
    ("tolerance_mm", "double", mark("how far from what is wanted the action is still right, mm")),
    ("as_built", "double", mark("share of the builds that are right with nothing adjusted")),
    (
        "adjusted",
        "double",
        mark("share that are right once saddles move within their travel; none where that is not known"),
    ),
    ("adjusters_mm", "double", mark("how far saddles must reach either way for 19 builds in 20, mm")),
)


def rows(item: Item, settings: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return a row for each dimension; `settings["builds"]` are drawn (10,000), from `settings["seed"]`.

    Raises:
        BreakangleError: what is no service file, or a design without strings from the nut.
    """
    from breakangle.services.design.budget import BUILDS, SEED
    from breakangle.services.design.simulated import simulated
    from breakangle.services.service_files.service import service_from

    service = service_from(item.content, item.name)
    found = simulated(service, settings.get("builds") or BUILDS, settings.get("seed", SEED))
    whole = {
        "action_mm": _told(found.budget.action_mm),
        "action_spread_mm": _told(found.budget.linear_mm),
        "drawn_spread_mm": _told(found.spread_mm),
        "builds": found.builds,
        "tolerance_mm": _told(found.tolerance_mm),
        "as_built": _told(found.as_built),
        "adjusted": None if found.adjusted is None else _told(found.adjusted),
        "adjusters_mm": _told(found.budget.adjusters_mm),
    }
    return [
        {
            "dimension": one.name,
            "nominal": _told(one.nominal),
            "spread": _told(one.spread),
            "slope": _told(one.slope),
            "share": _told(one.share),
            "drawn_share": _told(found.shares[one.name]),
            **whole,
        }
        for one in found.budget.shares
    ]


def _told(value: float) -> float:
    return round(float(value), DIGITS)
