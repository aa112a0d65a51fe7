"""Numbers of a series without gaps, such as those of the sheets."""

from sqlalchemy import Connection, Insert, select, update
from sqlalchemy.dialects import postgresql, sqlite

from breakangle.storage.schema import tables


def next_number(connection: Connection, name: str) -> int:
    """Return the next number of a series without gaps: it is used only if the transaction is stored."""
    counter = tables.COUNTER
    connection.execute(start_series(connection, name))
    raised = (
        update(counter)
        .where(counter.c.name == name)
        .values(last=counter.c.last + 1)
        .returning(counter.c.last)
    )
    return int(connection.execute(raised).scalar_one())


def start_series(connection: Connection, name: str) -> Insert:
    """Return the statement that begins a series of numbers, unless it has begun."""
    put = sqlite.insert if connection.dialect.name == "sqlite" else postgresql.insert
    return put(tables.COUNTER).values(name=name, last=0).on_conflict_do_nothing()


def hold_series(connection: Connection, name: str) -> None:
    """Keep whoever else would take a number of this series waiting until the transaction ends."""
    connection.execute(start_series(connection, name))
    counter = tables.COUNTER
    connection.execute(select(counter.c.last).where(counter.c.name == name).with_for_update())
