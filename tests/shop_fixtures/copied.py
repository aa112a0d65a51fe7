"""A shop many times over: every row of a small one copied by the database itself, under names of its own."""

from sqlalchemy import Connection, insert, literal, select, text, update

from breakangle.storage.records.store import Shop
from breakangle.storage.schema.tables import CHANGE, COUNTER, ENTRY, INSTRUMENT, LINE, METADATA, OWNER, VISIT

COPIED = (OWNER, INSTRUMENT, VISIT, LINE, ENTRY, CHANGE)
NAMES = {"id", "record_id", "owner_id", "instrument_id", "visit_id", "supersedes"}


def copy_times(shop: Shop, times: int) -> None:
    """Make the shop `times` as large."""
    with shop.writing() as connection:
        sheets = connection.execute(select(COUNTER.c.last).where(COUNTER.c.name == "sheet")).scalar_one()
        for number in range(1, times):
            for table in COPIED:
                _copy(connection, table.name, f"-{number}", number * sheets)
        connection.execute(update(COUNTER).where(COUNTER.c.name == "sheet").values(last=times * sheets))
    analyzed(shop)


def analyzed(shop: Shop) -> None:
    """Let the database count its rows, as a server does by itself within a minute of so many coming in."""
    with shop.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.execute(text("ANALYZE"))


def _copy(connection: Connection, name: str, sign: str, numbers: int) -> None:
    table = METADATA.tables[name]
    columns = [
        (column + literal(sign)).label(column.name)
        if column.name in NAMES
        else (column + numbers).label(column.name)
        if column.name == "number"
        else column
        for column in table.columns
    ]
    first = select(*columns).where(~table.c.id.like("%-%"))
    if name == CHANGE.name:
        first = first.where(table.c.record_table.in_([one.name for one in COPIED]))
    connection.execute(insert(table).from_select([column.name for column in table.columns], first))
