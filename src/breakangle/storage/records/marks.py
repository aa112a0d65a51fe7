"""A mark of what a visit holds: as long as it is the same, so are the visit's readings and work."""

from sqlalchemy import Connection, func, select

from breakangle.storage.schema.tables import ENTRY, VISIT


def visit_marks(connection: Connection, *visit_ids: str) -> dict[str, str]:
    """Return each visit's mark, by visit: its entries are never changed, so their number and the last one tell."""
    entry = ENTRY.c
    marked = (
        select(entry.visit_id, func.count(entry.id), func.max(entry.id))
        .where(entry.visit_id.in_(visit_ids))
        .group_by(entry.visit_id)
    )
    found = {row[0]: f"{row[1]}/{row[2]}" for row in connection.execute(marked)}
    return {one: found.get(one, "") for one in visit_ids}


def instrument_marks(connection: Connection, instrument_id: str) -> tuple[tuple[str, int, str], ...]:
    """Return the marks of all visits of one instrument that hold any entry."""
    entry = ENTRY.c
    visits = select(VISIT.c.id).where(VISIT.c.instrument_id == instrument_id)
    marked = (
        select(entry.visit_id, func.count(entry.id), func.max(entry.id))
        .where(entry.visit_id.in_(visits))
        .group_by(entry.visit_id)
        .order_by(entry.visit_id)
    )
    return tuple((row[0], int(row[1]), row[2]) for row in connection.execute(marked))


def instrument_of_sheet(connection: Connection, number: int) -> str | None:
    """Return which instrument the sheet of that number is about; None if there is none."""
    found = connection.execute(select(VISIT.c.instrument_id).where(VISIT.c.number == number)).scalar()
    return None if found is None else str(found)
