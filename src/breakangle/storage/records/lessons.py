"""What each neck has taught, kept with the mark of what it was learned from: anything newer makes it stale.

A neck teaches the others once a visit of it is over: while it is worked on, no other's plan moves with every reading.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy import Connection, delete, func, select
from sqlalchemy.dialects import postgresql, sqlite

from breakangle.storage.schema.tables import ENTRY, INSTRUMENT, LEARNED, VISIT

OVER = VISIT.c.deleted_at.is_(None), VISIT.c.handed_back_at.is_not(None)


@dataclass(frozen=True)
class Lesson:
    """What was kept of one neck (JSON; empty where it has taught nothing), and whether it is still current."""

    instrument_id: str
    body: str | None
    mark: str


def lessons(connection: Connection, kind: str, most: int) -> tuple[Lesson, ...]:
    """Return the lessons of the `most` instruments of this kind that came in last, newest first."""
    seen = (
        select(VISIT.c.instrument_id, func.max(VISIT.c.opened_at).label("last"))
        .join(INSTRUMENT, INSTRUMENT.c.id == VISIT.c.instrument_id)
        .where(INSTRUMENT.c.kind == kind, INSTRUMENT.c.deleted_at.is_(None), *OVER)
        .group_by(VISIT.c.instrument_id)
        .order_by(func.max(VISIT.c.opened_at).desc(), VISIT.c.instrument_id)
        .limit(most)
    )
    keys = [row.instrument_id for row in connection.execute(seen)]
    return _with_marks(connection, keys)


def _with_marks(connection: Connection, keys: list[str]) -> tuple[Lesson, ...]:
    marked = (
        select(
            VISIT.c.instrument_id,
            func.count(ENTRY.c.id),
            func.max(ENTRY.c.id),
            func.count(VISIT.c.id.distinct()),
        )
        .join(ENTRY, ENTRY.c.visit_id == VISIT.c.id)
        .where(VISIT.c.instrument_id.in_(keys), *OVER)
        .group_by(VISIT.c.instrument_id)
    )
    marks: Mapping[str, str] = {row[0]: f"{row[3]}/{row[1]}/{row[2]}" for row in connection.execute(marked)}
    stored = connection.execute(select(LEARNED).where(LEARNED.c.instrument_id.in_(keys)))
    kept = {row.instrument_id: row for row in stored}

    def one(key: str) -> Lesson:
        mark = marks.get(key, "")
        current = key in kept and kept[key].fingerprint == mark
        return Lesson(key, kept[key].body if current else None, mark)

    return tuple(one(key) for key in keys)


def forget_lesson(connection: Connection, instrument_id: str) -> None:
    """Let go of what a neck has taught: it was learned of an instrument that was described wrongly."""
    connection.execute(delete(LEARNED).where(LEARNED.c.instrument_id == instrument_id))


def keep_lesson(connection: Connection, found: Lesson, kind: str, body: str) -> None:
    """Keep what a neck has taught, with the mark of what it was learned from."""
    put = sqlite.insert if connection.dialect.name == "sqlite" else postgresql.insert
    learned = {"kind": kind, "fingerprint": found.mark, "body": body}
    kept = put(LEARNED).values(instrument_id=found.instrument_id, **learned)
    # Two may learn of one neck at one moment; both have learned the same.
    connection.execute(kept.on_conflict_do_update(index_elements=["instrument_id"], set_=learned))
