"""Where every instrument touches its crowns when it is played: one row a note."""

from collections.abc import Mapping
from typing import Any

from breakangle.fleet.items import SERVICES, Item
from breakangle.model.words.speech import mark

WORDS = mark("where each instrument buzzes, played at one strength")
ENDINGS = SERVICES
COLUMNS = (
    ("string", "int32", mark("string number, 1 the highest")),
    ("fret", "int32", mark("fret, 0 the open string")),
    ("verdict", "string", mark("clear, trace (touches, not heard), audible or choking")),
    ("probability", "double", mark("chance that the note touches a crown")),
    ("margin_mm", "double", mark("what is left between swing and nearest crown, mm")),
)


def rows(item: Item, settings: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return a row for each note; `settings["strength"]` is how hard it is played (medium).

    Raises:
        BreakangleError: what the buzz map of one service raises.
    """
    from breakangle.fleet.arrays import note_rows
    from breakangle.library.touching import buzz
    from breakangle.services.service_files.service import service_from

    service = service_from(item.content, item.name)
    found = buzz(service, settings.get("strength") or "medium", earlier=item.earlier_services())
    arrays = {"verdict": found.verdict, "probability": found.probability, "margin_mm": found.margin_mm}
    return [one for one in note_rows(found.strings, 0, arrays) if one["verdict"]]
