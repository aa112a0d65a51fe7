"""What lies on the shelf in a smaller number than there should be."""

from sqlalchemy import Connection, select

from breakangle.storage.records.records import Stock
from breakangle.storage.schema.tables import STOCK


def lying_low(connection: Connection) -> tuple[Stock, ...]:
    """Return what is to be ordered, oldest first."""
    low = STOCK.c.held_count < STOCK.c.least_count, STOCK.c.deleted_at.is_(None)
    rows = connection.execute(select(STOCK).where(*low).order_by(STOCK.c.id))
    return tuple(Stock(**row) for row in rows.mappings())
