"""Entries of another shop: each after the one it supersedes, and none where somebody here was first."""

import json
from typing import Any

from sqlalchemy import Connection, insert, select

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.words.speech import tr
from breakangle.storage.schema.tables import ENTRY

NAMES = {"reading": "quantity", "adjustment": "adjust"}
Row = dict[str, Any]


class EntryMerge:
    """A merge of entries, portion by portion.

    `dropped` are those whose place somebody here has taken since; `worked` the visits that an adjustment came to.
    """

    def __init__(self, connection: Connection) -> None:
        """Begin with nothing taken."""
        self.added_count = 0
        self.dropped: dict[str, None] = {}
        self.worked: set[str] = set()
        self._connection = connection
        self._waiting: dict[str, list[Row]] = {}  # for the entry that they supersede

    def take(self, chunk: list[Row]) -> None:
        """Store of this portion what is new, fits, and follows what is stored already; keep the rest waiting."""
        ids = self._here([row["id"] for row in chunk])
        self._free([key for key in ids if key in self._waiting])
        new = [row for row in chunk if row["id"] not in ids]
        known = self._here([row["supersedes"] for row in new if row["supersedes"]])
        taken, places = self._superseded(new), self._places(new)
        ready: list[Row] = []
        queue = list(reversed(new))
        while queue:
            row = queue.pop()
            parent = row["supersedes"]
            if parent is not None and parent not in known and parent not in self.dropped:
                self._waiting.setdefault(parent, []).append(row)
                continue
            if parent in self.dropped or (
                parent in taken if parent else (row["visit_id"], row["place"]) in places
            ):
                self.dropped[row["id"]] = None
            else:
                ready.append(_sound(row))
                known.add(row["id"])
            queue += self._waiting.pop(row["id"], [])
        self._store(ready)

    def finish(self) -> None:
        """End the merge.

        Raises:
            ChooseAnotherFileError: an entry supersedes one that is in neither shop.
        """
        self._free(list(self._here(list(self._waiting))))
        if self._waiting:
            given = tr(
                "{waiting_count} entries of this export supersede entries that nobody has",
                waiting_count=len(self._waiting),
            )
            raise ChooseAnotherFileError(given, "", tr("name another"))

    def _free(self, keys: list[str]) -> None:
        """Store what waited for entries that turn out to be here."""
        for key in keys:
            self.take(self._waiting.pop(key))

    def _store(self, ready: list[Row]) -> None:
        if ready:
            self._connection.execute(insert(ENTRY), ready)
        self.added_count += len(ready)
        self.worked |= {row["visit_id"] for row in ready if row["kind"] == "adjustment"}

    def _here(self, keys: list[str]) -> set[str]:
        found: set[str] = set()
        for start in range(0, len(keys), 500):
            named = ENTRY.c.id.in_(keys[start : start + 500])
            found |= set(self._connection.execute(select(ENTRY.c.id).where(named)).scalars())
        return found

    def _superseded(self, new: list[Row]) -> set[str]:
        keys = [row["supersedes"] for row in new if row["supersedes"]]
        named = select(ENTRY.c.supersedes).where(ENTRY.c.supersedes.in_(keys))
        return {str(one) for one in self._connection.execute(named).scalars()}

    def _places(self, new: list[Row]) -> set[tuple[str, int]]:
        visits = sorted({row["visit_id"] for row in new if not row["supersedes"]})
        first = select(ENTRY.c.visit_id, ENTRY.c.place).where(
            ENTRY.c.visit_id.in_(visits), ENTRY.c.supersedes.is_(None)
        )
        return {(row.visit_id, row.place) for row in self._connection.execute(first)}


def _sound(row: Row) -> Row:
    """Return the row if its body is what an entry's must be.

    Raises:
        ChooseAnotherFileError: it is none.
    """
    if row["body"] is not None:
        body = json.loads(row["body"])
        if not isinstance(body, dict) or not isinstance(body.get(NAMES[row["kind"]]), str):
            given = tr("entry {id} of this export is no reading and no adjustment", id=row["id"])
            raise ChooseAnotherFileError(given, "", tr("name another"))
    return row
