"""The table that says whose instruments are: make, year, and which instrument each item is a visit of."""

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from breakangle.model.words.speech import tr, tr_n


@dataclass(frozen=True)
class Whose:
    """One item's make and year, and the instrument it is a visit of; each empty where it is not told."""

    make: str
    year: str
    instrument: str


def makes_listed(path: str | Path, items: Sequence[str]) -> dict[str, Whose]:
    """Return whose every item is, from a table (CSV in UTF-8) with the columns `item` and `make`.

    The columns `year` and `instrument` may stand beside them.

    Raises:
        ChooseAnotherFileError: no such table, or without those columns.
        CorrectInputError: items that it does not have.
    """
    try:
        with Path(path).open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.DictReader(file))
    except (OSError, UnicodeDecodeError, csv.Error) as cause:
        raise ChooseAnotherFileError(
            tr("{path} cannot be read as a table", path=path), tr("CSV in UTF-8")
        ) from cause
    if rows and not {"item", "make"} <= set(rows[0]):
        raise ChooseAnotherFileError(
            tr("{path} has no columns item and make", path=path), tr("item names a file, make its maker")
        )
    found = {
        row["item"]: Whose(*((row.get(name) or "").strip() for name in ("make", "year", "instrument")))
        for row in rows
    }
    missing = [name for name in items if name not in found]
    if missing:
        raise CorrectInputError(
            tr("{path} has no make for {missing}", path=path, missing=missing[0]),
            tr_n("{count} such item", "{count} such items", len(missing), count=len(missing)),
            tr("add them"),
        )
    return found
