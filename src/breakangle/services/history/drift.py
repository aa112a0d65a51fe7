"""What comes due over the whole shop, reckoned once for each instrument and kept until something changes it."""

import json
from collections.abc import Mapping, Sequence
from datetime import date

from breakangle.model.words.message import Message
from breakangle.services.history.figures import SeasonFigures, figures_among, season_figures
from breakangle.services.history.seasons import Drift, Due, drift, due_for
from breakangle.storage.records.due import (
    coming,
    hold_instruments,
    keep_coming,
    room_by_months,
    stale_instruments,
)
from breakangle.storage.records.records import InstrumentRecord
from breakangle.storage.records.store import Shop, records_among

__all__ = [
    "Drift",
    "Due",
    "SeasonFigures",
    "drift",
    "due",
    "due_for",
    "reason_of",
    "reckon",
    "room_by_month",
    "season_figures",
]
REASONS = "messages"  # what was reckoned before they were is stale
PORTION = 50  # instruments reckoned in one transaction: others can write between


def room_by_month(shop: Shop) -> dict[int, float]:
    """Return the workshop's mean humidity for each month it was read in, to a whole percent."""
    with shop.reading() as connection:
        return _whole(room_by_months(connection))


def due(shop: Shop, until: date | None = None) -> tuple[Due, ...]:
    """Return what comes due over the whole shop (by the day `until`, where given), soonest first.

    Only instruments that left the workshop: with one that is here it is seen to anyway.

    Raises:
        ShopOutOfReachError: the records cannot be reached or written.
    """
    reckon(shop)
    with shop.reading() as connection:
        rows = [row for row, _ in coming(connection, until, idle=True)]
        keys = sorted({row[0] for row in rows})
        records = {record.id: record for record in records_among(connection, InstrumentRecord, "id", keys)}
    return tuple(Due(what, records[key], on, reason_of(text)) for key, what, on, text in rows)


def reckon(shop: Shop, most: int | None = None, idle: bool = False) -> bool:
    """Reckon what comes due where it is stale, for `most` instruments at most; return whether all is now current.

    `idle`: only instruments that are not in the workshop, since with those nothing is to be done.

    Raises:
        ShopOutOfReachError: the records cannot be reached or written.
    """
    with shop.reading() as connection:
        room = _whole(room_by_months(connection))
        stale = stale_instruments(connection, room_mark(room), None if most is None else most + 1, idle)
    portion = list(stale[:most])
    for start in range(0, len(portion), PORTION):
        _reckon(shop, portion[start : start + PORTION], room)
    return len(stale) == len(portion)


def _reckon(shop: Shop, keys: Sequence[str], room: Mapping[int, float]) -> None:
    with shop.writing() as connection:
        hold_instruments(connection, keys)
        records = records_among(connection, InstrumentRecord, "id", keys)
        figures = figures_among(connection, [one.id for one in records])
        rows = [
            (record.id, one.what, one.on, one.reason.model_dump_json(exclude_defaults=True))
            for record in records
            for one in due_for(record, room, figures.get(record.id, ()))
        ]
        keep_coming(connection, room_mark(room), [one.id for one in records], rows)


def room_mark(room: Mapping[int, float]) -> str:
    """Return what marks everything that was reckoned for such a room, its reasons stored as messages."""
    return json.dumps([REASONS, sorted(room.items())])


def reason_of(stored: str) -> Message:
    """Return the reason that was stored with what comes due: a message, or the sentence that stood there before."""
    if not stored.startswith("{"):
        return Message(key="due.sentence", values={"sentence": stored})
    return Message.model_validate_json(stored)


def _whole(room: Mapping[int, float]) -> dict[int, float]:
    """Return the months to a whole percent: what is reckoned need not follow every new visit."""
    return {month: float(round(percent)) for month, percent in room.items()}
