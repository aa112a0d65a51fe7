"""The visits in the workshop by state, each with its instrument, its owner, its promise, and since when it is so."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, and_, func, or_, select

from breakangle.storage.schema.column_types import Moment
from breakangle.storage.schema.tables import INSTRUMENT, OWNER, STATES, VISIT


@dataclass(frozen=True)
class Work:
    """One visit as a list shows it; `since` is when it came into its state, as far as that was kept."""

    visit_id: str
    number: int
    state: str
    instrument_id: str
    instrument: str
    owner: str | None
    contact: str
    complaint: str
    promised_on: date | None
    opened_at: datetime
    since: datetime


def worklist(connection: Connection, back_since: datetime) -> Mapping[str, tuple[Work, ...]]:
    """Return the visits by state, in the order of work; in each state by the day promised, then the longest waiting.

    What was handed back is left out unless that was after `back_since`.
    """
    here = or_(
        VISIT.c.state.in_(STATES[:-1]), and_(VISIT.c.state == STATES[-1], VISIT.c.handed_back_at > back_since)
    )
    since = func.coalesce(VISIT.c.moved_at, VISIT.c.opened_at, type_=Moment)
    rows = connection.execute(
        select(
            VISIT.c.id, VISIT.c.number, VISIT.c.state, VISIT.c.instrument_id, INSTRUMENT.c.name, OWNER.c.name,
            func.coalesce(OWNER.c.contact, ""), VISIT.c.complaint, VISIT.c.promised_on, VISIT.c.opened_at,
            since,
        )
        .join(INSTRUMENT, INSTRUMENT.c.id == VISIT.c.instrument_id)
        .outerjoin(OWNER, OWNER.c.id == INSTRUMENT.c.owner_id)
        .where(here, VISIT.c.deleted_at.is_(None))
        .order_by(VISIT.c.promised_on.is_(None), VISIT.c.promised_on, since, VISIT.c.number)
    )  # fmt: skip
    found: dict[str, list[Work]] = {state: [] for state in STATES}
    for row in rows.all():
        found[row[2]].append(_work(row))
    return {state: tuple(works) for state, works in found.items()}


def _work(row: Sequence[Any]) -> Work:
    values: list[Any] = list(row)
    if values[8] is not None:
        values[8] = date.fromisoformat(values[8])
    return Work(*values)


@dataclass(frozen=True)
class Listed:
    """One visit as a list of them all shows it."""

    number: int
    opened_at: datetime
    state: str
    instrument: str
    complaint: str


def listed(connection: Connection, state: str | None = None) -> tuple[Listed, ...]:
    """Return every visit (of one state, where it is named) with its instrument's name, newest first."""
    wanted = (
        select(VISIT.c.number, VISIT.c.opened_at, VISIT.c.state, INSTRUMENT.c.name, VISIT.c.complaint)
        .join(INSTRUMENT, INSTRUMENT.c.id == VISIT.c.instrument_id)
        .where(VISIT.c.deleted_at.is_(None))
        .order_by(VISIT.c.number.desc())
    )
    if state is not None:
        wanted = wanted.where(VISIT.c.state == state)
    return tuple(Listed(*row) for row in connection.execute(wanted))
