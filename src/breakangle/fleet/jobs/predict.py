"""Clearance and intonation of every note of every instrument: one row a note."""

from collections.abc import Mapping
from typing import Any

from breakangle.fleet.items import SERVICES, Item
from breakangle.model.words.speech import mark

WORDS = mark("gaps and cents at every fret, for each instrument")
ENDINGS = SERVICES
COLUMNS = (
    ("string", "int32", mark("string number, 1 the highest")),
    ("fret", "int32", mark("fret, 1 to the last")),
    ("clearance_mm", "double", mark("the open string over this crown, mm")),
    ("clearance_uncertainty_mm", "double", mark("its standard deviation, mm")),
    ("cents", "double", mark("the stopped note from equal temperament, the open string in tune")),
    ("cents_uncertainty", "double", mark("its standard deviation, cents")),
)


def rows(item: Item, settings: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return a row for each note.

    Raises:
        BreakangleError: what the estimate of one service raises.
    """
    from breakangle.fleet.arrays import note_rows
    from breakangle.library.state import predict
    from breakangle.services.service_files.service import service_from

    del settings
    found = predict(service_from(item.content, item.name), earlier=item.earlier_services())
    arrays = {name: getattr(found, name) for name, _, _ in COLUMNS[2:]}
    return note_rows(found.strings, 1, arrays)
