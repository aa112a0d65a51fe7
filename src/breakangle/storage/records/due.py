"""What comes due, kept as it was reckoned: stale as soon as anything it was reckoned from has changed."""

from collections.abc import Iterable, Sequence
from datetime import date

from sqlalchemy import Connection, Select, Text, and_, delete, func, insert, select, type_coerce

from breakangle.storage.schema.tables import COMING, INSTRUMENT, RECKONED, STATES, VISIT

Row = tuple[str, str, date, str]  # instrument, what, on which day, why


def reckon_again(connection: Connection, instrument_id: str) -> None:
    """Make what is kept of this instrument stale."""
    connection.execute(delete(RECKONED).where(RECKONED.c.instrument_id == instrument_id))


def reckon_no_more(connection: Connection, instrument_id: str) -> None:
    """Forget what is kept of an instrument that was deleted."""
    reckon_again(connection, instrument_id)
    connection.execute(delete(COMING).where(COMING.c.instrument_id == instrument_id))


def reckon_again_after(connection: Connection, visit_id: str) -> None:
    """Make what is kept of this visit's instrument stale."""
    whose = select(VISIT.c.instrument_id).where(VISIT.c.id == visit_id).scalar_subquery()
    connection.execute(delete(RECKONED).where(RECKONED.c.instrument_id == whose))


def reckon_everything_again(connection: Connection) -> None:
    """Make everything that is kept stale, and forget what is kept of deleted instruments."""
    connection.execute(delete(RECKONED))
    gone = select(INSTRUMENT.c.id).where(INSTRUMENT.c.deleted_at.is_not(None))
    connection.execute(delete(COMING).where(COMING.c.instrument_id.in_(gone)))


def room_by_months(connection: Connection) -> dict[int, float]:
    """Return the workshop's mean humidity (percent) for each month of the year it was read in."""
    month = func.substr(type_coerce(VISIT.c.opened_at, Text), 6, 2)
    read = (
        select(month, func.avg(VISIT.c.humidity_percent))
        .where(VISIT.c.deleted_at.is_(None), VISIT.c.humidity_percent.is_not(None))
        .group_by(month)
    )
    return {int(name): float(mean) for name, mean in sorted(tuple(row) for row in connection.execute(read))}


def stale_instruments(connection: Connection, room: str, most: int | None, idle: bool) -> tuple[str, ...]:
    """Return the instruments to reckon for this room (`idle`: only those not in the workshop), `most` at most."""
    kept = and_(RECKONED.c.instrument_id == INSTRUMENT.c.id, RECKONED.c.room == room)
    wanted = (
        select(INSTRUMENT.c.id)
        .outerjoin(RECKONED, kept)
        .where(RECKONED.c.instrument_id.is_(None), INSTRUMENT.c.deleted_at.is_(None))
        .order_by(INSTRUMENT.c.id)
        .limit(most)
    )
    if idle:
        wanted = wanted.where(INSTRUMENT.c.id.not_in(_in_the_workshop()))
    return tuple(connection.execute(wanted).scalars())


def hold_instruments(connection: Connection, keys: Sequence[str]) -> None:
    """Keep others who reckon these instruments waiting until the transaction ends (SQLite has one writer anyway)."""
    wanted = select(INSTRUMENT.c.id).where(INSTRUMENT.c.id.in_(keys)).order_by(INSTRUMENT.c.id)
    connection.execute(wanted.with_for_update(key_share=True))


def keep_coming(connection: Connection, room: str, keys: Iterable[str], rows: Iterable[Row]) -> None:
    """Keep what comes due for the instruments named `keys`, reckoned for this room."""
    named = sorted(keys)
    connection.execute(delete(COMING).where(COMING.c.instrument_id.in_(named)))
    connection.execute(delete(RECKONED).where(RECKONED.c.instrument_id.in_(named)))
    connection.execute(insert(RECKONED), [{"instrument_id": key, "room": room} for key in named])
    kept = [
        {"instrument_id": key, "what": what, "due_on": on.isoformat(), "why": why}
        for key, what, on, why in rows
    ]
    if kept:
        connection.execute(insert(COMING), kept)


def coming(
    connection: Connection,
    until: date | None,
    since: date | None = None,
    most: int | None = None,
    idle: bool = False,
) -> tuple[tuple[Row, str], ...]:
    """Return what comes due with its instrument's name, soonest first; `idle`: only of what left the workshop."""
    wanted = (
        select(COMING.c.instrument_id, COMING.c.what, COMING.c.due_on, COMING.c.why, INSTRUMENT.c.name)
        .join(INSTRUMENT, INSTRUMENT.c.id == COMING.c.instrument_id)
        .order_by(COMING.c.due_on, COMING.c.instrument_id, COMING.c.what)
        .limit(most)
    )
    if until is not None:
        wanted = wanted.where(COMING.c.due_on <= until.isoformat())
    if since is not None:
        wanted = wanted.where(COMING.c.due_on >= since.isoformat())
    if idle:
        wanted = wanted.where(
            COMING.c.instrument_id.in_(_has_left()), COMING.c.instrument_id.not_in(_in_the_workshop())
        )
    rows = connection.execute(wanted)
    return tuple(((row[0], row[1], date.fromisoformat(row[2]), row[3]), row[4]) for row in rows)


def _has_left() -> Select[tuple[str]]:
    return select(VISIT.c.instrument_id).where(VISIT.c.state == STATES[-1], VISIT.c.deleted_at.is_(None))


def _in_the_workshop() -> Select[tuple[str]]:
    return select(VISIT.c.instrument_id).where(VISIT.c.state.in_(STATES[:-1]), VISIT.c.deleted_at.is_(None))
