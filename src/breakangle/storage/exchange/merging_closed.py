"""Closed sheets to which another shop's readings or lines came: opened for an amendment, nothing there unsaid.

What was stored elsewhere before anybody there knew that the sheet is closed is not lost, and does not stand on it as if
it had been signed either: a person looks at it, and closes the sheet once more.
"""

import json
from collections.abc import Iterator, Sequence

from sqlalchemy import Connection, select

from breakangle.model.words.speech import tr
from breakangle.storage.records.closings import written_since
from breakangle.storage.records.entries import all_entries
from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import change_record, records_among
from breakangle.storage.schema.stamp import Stamp
from breakangle.storage.schema.tables import CLOSING


def open_what_goes_beyond(connection: Connection, visit_ids: Sequence[str]) -> Iterator[int]:
    """Open for an amendment those of these visits that hold more than was signed, and yield their sheets' numbers."""
    for visit in records_among(connection, Visit, "id", visit_ids):
        if visit.closed_at is None:
            continue
        closings = select(CLOSING.c.body).where(
            CLOSING.c.visit_id == visit.id, CLOSING.c.deleted_at.is_(None)
        )
        last = connection.execute(closings.order_by(CLOSING.c.number.desc()).limit(1)).scalar()
        if last is None or not written_since(connection, visit, json.loads(last)):
            continue
        entries = all_entries(connection, visit.id)
        at = max([visit.changed_at, *(one.entered_at or one.taken_at for one in entries)])
        stamp = Stamp(visit.changed_by, at)
        why = tr("what was stored at two places came together")
        change_record(connection, visit, stamp, closed_at=None, amending=why)
        yield visit.number
