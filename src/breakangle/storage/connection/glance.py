"""A glance at what a page rests on: one statement, on a connection of its own where the records are a file.

It is taken at every request, by the loop that answers them all, so it must wait for nothing: a file that somebody else
has locked just now is looked at later, by a thread that may wait.
"""

import sqlite3
from contextlib import suppress
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, text

from breakangle.storage.connection.changes import DUE, RECORDS

Told = tuple[tuple[Any, ...], ...]
COUNTED = f"SELECT name, last, '' FROM counter WHERE name IN ('{RECORDS}', '{DUE}')"
# Entries are never changed and never removed one by one, so their number and the last one tell.
VISITS = """ UNION ALL SELECT visit_id, count(id), max(id) FROM entry WHERE visit_id IN
(SELECT id FROM visit WHERE instrument_id = {}) GROUP BY visit_id"""
OF_INSTRUMENT = VISITS.format(":key")
OF_SHEET = VISITS.format("(SELECT instrument_id FROM visit WHERE number = :key)")


class Glance:
    """Looks at the counters of a shop in a file, and at the entries of one instrument."""

    def __init__(self, place: Path) -> None:
        """Look at this file; it is not opened yet."""
        self._place, self._connection = place, None  # type: tuple[Path, sqlite3.Connection | None]

    def told(self, also: str = "", key: str | int = "") -> Told | None:
        """Return what `told` does, without waiting; None where it cannot be seen so."""
        try:
            if self._connection is None:
                address = f"{self._place.absolute().as_uri()}?mode=rw"
                self._connection = sqlite3.connect(address, uri=True, timeout=0.0, check_same_thread=False)
            return tuple(sorted(self._connection.execute(COUNTED + also, {"key": key})))
        except sqlite3.Error:
            self.close()
            return None

    def close(self) -> None:
        """Let go of the file."""
        held, self._connection = self._connection, None
        if held is not None:
            with suppress(sqlite3.Error):
                held.close()


def told(connection: Connection, also: str = "", key: str | int = "") -> Told:
    """Return the counters, and with `also` the marks of the visits of an instrument, or of a sheet's instrument.

    Args:
        connection: what is read.
        also: `OF_INSTRUMENT` or `OF_SHEET`; empty: the counters only.
        key: the instrument's name, or the sheet's number.
    """
    rows = connection.execute(text(COUNTED + also), {"key": key} if also else {})
    return tuple(sorted(tuple(row) for row in rows))
