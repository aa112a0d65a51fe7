"""Instruments that carry a serial number or a tag of the shop."""

from sqlalchemy import or_, select

from breakangle.model.identity_marks import IDENTITY_MARKS
from breakangle.storage.records.records import InstrumentRecord
from breakangle.storage.records.store import Writing
from breakangle.storage.schema.tables import INSTRUMENT


def marked_instruments(connection: Writing) -> tuple[InstrumentRecord, ...]:
    """Return every instrument in whose description a serial number or a tag is named, oldest first."""
    named = or_(*(INSTRUMENT.c.body.contains(f'"{name}"', autoescape=True) for name in IDENTITY_MARKS))
    wanted = select(INSTRUMENT).where(named, INSTRUMENT.c.deleted_at.is_(None)).order_by(INSTRUMENT.c.id)
    return tuple(InstrumentRecord(**row) for row in connection.execute(wanted).mappings())
