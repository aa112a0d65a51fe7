"""A mark of what a visit holds: as long as it is the same, so are the visit's readings and work."""

from sqlalchemy import Connection, func, select

from breakangle.storage.schema.tables import ENTRY


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
