"""What a long history needs of the entries that stand, of many visits at once."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, Text, select, type_coerce

from breakangle.storage.records.entries import ORDER
from breakangle.storage.schema import tables


@dataclass(slots=True)
class Standing:
    """What a long history needs of a standing entry, and no more; `at` is its UTC text."""

    visit_id: str
    kind: str
    body: str
    at: str
    who: str


def standing_entries(connection: Connection, visit_ids: Sequence[str], most: int = 500) -> Iterator[Standing]:
    """Yield what stands of these visits' entries, each visit's in order, the database itself leaving out the rest."""
    entry, later = tables.ENTRY, tables.ENTRY.alias()
    for start in range(0, len(visit_ids), most):
        wanted = (
            select(
                entry.c.visit_id,
                entry.c.kind,
                entry.c.body,
                type_coerce(entry.c.taken_at, Text),
                entry.c.taken_by,
            )
            .outerjoin(later, later.c.supersedes == entry.c.id)
            .where(
                entry.c.visit_id.in_(visit_ids[start : start + most]),
                later.c.id.is_(None),
                entry.c.body.is_not(None),
            )
            .order_by(entry.c.visit_id, ORDER)
        )
        yield from (Standing(*row) for row in connection.execute(wanted).all())
