"""How often the shop was changed: counted with every change, in its own transaction, so that a page knows its age.

Readings and work of a visit that is still open are not counted: their own mark tells of them (`marks`), and they change
what is shown of that instrument only. Everything else counts, whoever writes it and whatever table it is in.
"""

import secrets
from typing import Any

from sqlalchemy import Connection, Engine, Insert, delete, event, select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.sql.dml import UpdateBase

from breakangle.storage.schema.tables import ANSWERED, COMING, COUNTER, DEVICE, LEARNED, PAIRING, RECKONED

RECORDS, DUE = "changes of records", "changes of what is due"  # their names among the counters
# What no page shows: who may come in, what was answered already, and what is learned from what is counted anyway.
UNSEEN = (ANSWERED.name, COUNTER.name, DEVICE.name, LEARNED.name, PAIRING.name)
WHAT_IS_DUE = (COMING.name, RECKONED.name)
MARKED = "told_by_mark"  # an execution option of an entry that its visit's mark tells of
CHANGED = "changed"
FURTHEST_START = 2**30  # half of what a server's column holds


def count_changes(engine: Engine) -> None:
    """Note of every statement that changed rows which counter it raises."""

    @event.listens_for(engine, "after_execute")
    def executed(
        connection: Connection, statement: Any, many: Any, values: Any, options: Any, result: Any
    ) -> None:
        del many, values
        if isinstance(statement, UpdateBase):
            name = getattr(statement.table, "name", "")
            if result.rowcount == 0 or name in UNSEEN or options.get(MARKED):
                return
            connection.info.setdefault(CHANGED, set()).add(DUE if name in WHAT_IS_DUE else RECORDS)
        elif not getattr(statement, "is_select", False) and not result.returns_rows:
            connection.info.setdefault(CHANGED, set()).add(RECORDS)  # words whose table nobody knows


def begin_counting(connection: Connection) -> None:
    """Forget what a transaction before noted on this connection."""
    connection.info.pop(CHANGED, None)


def raise_counters(connection: Connection) -> None:
    """Raise, at its end, the counters of all that the transaction changed."""
    for name in sorted(connection.info.pop(CHANGED, ())):
        connection.execute(_raised(connection, name))


def _raised(connection: Connection, name: str) -> Insert:
    put = sqlite.insert if connection.dialect.name == "sqlite" else postgresql.insert
    # A database that is emptied and filled again in place begins somewhere else, not where pages know it from.
    first = put(COUNTER).values(name=name, last=1 + secrets.randbelow(FURTHEST_START))
    return first.on_conflict_do_update(index_elements=["name"], set_={"last": COUNTER.c.last + 1})


def changes(connection: Connection) -> dict[str, int]:
    """Return how often the records, and what is due, were changed so far."""
    asked = select(COUNTER.c.name, COUNTER.c.last).where(COUNTER.c.name.in_((RECORDS, DUE)))
    found = {row[0]: int(row[1]) for row in connection.execute(asked)}
    return {RECORDS: found.get(RECORDS, 0), DUE: found.get(DUE, 0)}


def forget_counts(connection: Connection) -> None:
    """Let the counting begin somewhere else: these records are about to be put in the place of others."""
    connection.execute(delete(COUNTER).where(COUNTER.c.name.in_((RECORDS, DUE))))
    connection.info.setdefault(CHANGED, set()).update((RECORDS, DUE))
