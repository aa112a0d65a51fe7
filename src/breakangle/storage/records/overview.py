"""Lists for a screen: the columns it shows and no more, in one statement, a page at a time."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, case, func, select

from breakangle.storage.schema.tables import INSTRUMENT, OWNER, VISIT

CARRIED = '"kind_table"'  # in the body of an instrument that carries the table of its kind


@dataclass(frozen=True)
class InstrumentRow:
    """One instrument in a list; `last_visit_at` is None where it has never been here.

    `body`: the whole instrument where it carries the table of its kind, which says what the kind is called; else empty.
    """

    id: str
    name: str
    kind: str
    body: str
    owner: str
    visit_count: int
    last_visit_at: datetime | None


def instrument_rows(connection: Connection, most: int, skipped: int = 0) -> tuple[InstrumentRow, ...]:
    """Return `most` instruments in the order of their names, after the first `skipped`; deleted ones left out."""
    body = case((INSTRUMENT.c.body.contains(CARRIED), INSTRUMENT.c.body), else_="").label("body")
    chosen = (
        select(INSTRUMENT.c.id, INSTRUMENT.c.name, INSTRUMENT.c.kind, INSTRUMENT.c.owner_id, body)
        .where(INSTRUMENT.c.deleted_at.is_(None))
        .order_by(INSTRUMENT.c.name, INSTRUMENT.c.id)
        .limit(most)
        .offset(skipped)
        .subquery()
    )
    theirs = (
        select(
            VISIT.c.instrument_id,
            func.count().label("visit_count"),
            func.max(VISIT.c.opened_at).label("last_visit_at"),
        )
        .where(VISIT.c.deleted_at.is_(None), VISIT.c.instrument_id.in_(select(chosen.c.id)))
        .group_by(VISIT.c.instrument_id)
        .subquery()
    )
    wanted = (
        select(
            chosen.c.id,
            chosen.c.name,
            chosen.c.kind,
            chosen.c.body,
            func.coalesce(OWNER.c.name, "").label("owner"),
            func.coalesce(theirs.c.visit_count, 0).label("visit_count"),
            theirs.c.last_visit_at,
        )
        .select_from(
            chosen.outerjoin(OWNER, OWNER.c.id == chosen.c.owner_id).outerjoin(
                theirs, theirs.c.instrument_id == chosen.c.id
            )
        )
        .order_by(chosen.c.name, chosen.c.id)
    )
    return tuple(InstrumentRow(**row) for row in connection.execute(wanted).mappings())


def instrument_count(connection: Connection) -> int:
    """Return how many instruments there are; deleted ones left out."""
    counted = select(func.count()).select_from(INSTRUMENT).where(INSTRUMENT.c.deleted_at.is_(None))
    return int(connection.execute(counted).scalar_one())


def instrument_kinds(connection: Connection) -> tuple[str, ...]:
    """Return every kind that an instrument is or was of, deleted ones too."""
    return tuple(connection.execute(select(INSTRUMENT.c.kind).distinct()).scalars())


def kinds_carried(connection: Connection) -> dict[str, str]:
    """Return the kinds whose table an instrument carries, each with one such instrument; deleted ones left out."""
    carries = INSTRUMENT.c.deleted_at.is_(None), INSTRUMENT.c.body.contains(CARRIED)
    wanted = select(INSTRUMENT.c.kind, func.min(INSTRUMENT.c.id)).where(*carries).group_by(INSTRUMENT.c.kind)
    return {str(kind): str(key) for kind, key in connection.execute(wanted)}
