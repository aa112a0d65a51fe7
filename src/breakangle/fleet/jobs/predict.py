"""Clearance and intonation of every note of every instrument: one row a note."""

from collections.abc import Mapping
from typing import Any

from breakangle.fleet.items import SERVICES, Item

WORDS = "gaps and cents at every fret, for each instrument"
ENDINGS = SERVICES
COLUMNS = (
    ("string", "int32", "string number, 1 the highest"),
    ("fret", "int32", "fret, 1 to the last"),
    ("clearance_mm", "double", "the open string over this crown, mm"),
    ("clearance_uncertainty_mm", "double", "its standard deviation, mm"),
    ("cents", "double", "the stopped note from equal temperament, the open string in tune"),
    ("cents_uncertainty", "double", "its standard deviation, cents"),
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
    found = predict(service_from(item.content, item.name))
    arrays = {name: getattr(found, name) for name, _, _ in COLUMNS[2:]}
    return note_rows(found.strings, 1, arrays)
