"""What stood in records before they were changed: the journal that undo, history and merging share."""

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Table, insert, select

from breakangle.storage.schema import tables
from breakangle.storage.schema.plain import from_plain, to_plain
from breakangle.storage.schema.stamp import new_id


def journal(connection: Connection, table: Table, before: Mapping[str, Any], at: datetime) -> None:
    """Keep what stood in a record before it was changed; of what is private nothing is kept."""
    if table.name in tables.PRIVATE:
        return
    body = json.dumps(to_plain(table, before), ensure_ascii=False, sort_keys=True)
    row = {"id": new_id(at), "record_table": table.name, "record_id": before["id"]}
    connection.execute(insert(tables.CHANGE).values(row | {"version": before["version"], "body": body}))


def earlier(connection: Connection, table: Table, key: str) -> tuple[dict[str, Any], ...]:
    """Return what stood in a record before, oldest first, who and when included."""
    wanted = (
        select(tables.CHANGE.c.body)
        .where(tables.CHANGE.c.record_table == table.name, tables.CHANGE.c.record_id == key)
        .order_by(tables.CHANGE.c.version)
    )
    found = connection.execute(wanted).scalars().all()
    return tuple(from_plain(table, json.loads(one)) for one in found)


def once_told(connection: Connection, table: Table, words: str) -> tuple[str, ...]:
    """Return the names of the records in whose former content these words stood as a text of their own."""
    quoted = json.dumps(words, ensure_ascii=False)
    wanted = (
        select(tables.CHANGE.c.record_id)
        .where(
            tables.CHANGE.c.record_table == table.name,
            tables.CHANGE.c.body.contains(f": {quoted}", autoescape=True),
        )
        .distinct()
        .order_by(tables.CHANGE.c.record_id)
    )
    return tuple(connection.execute(wanted).scalars())
