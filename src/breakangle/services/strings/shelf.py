"""What lies on the shelf: string sets and parts, counted as they are taken; and what an instrument is wished to be."""

import json
from collections.abc import Mapping
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.service import SERVICE_FORMAT
from breakangle.model.words.speech import tr
from breakangle.services.service_files.service import service_from
from breakangle.services.visits.visits import visit_numbered
from breakangle.storage.records.records import InstrumentRecord, Stock
from breakangle.storage.records.shelf import lying_low
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import Stamp

MOST_COUNT = 2**31 - 1  # what a database's whole number holds


def add_stock(shop: Shop, stamp: Stamp, words: str, held: int, least: int = 0, body: str = "{}") -> Stock:
    """Put something new on the shelf; below `least` of it, it is to be ordered. `body` is JSON about it.

    Raises:
        CorrectInputError: no words, a count that cannot be, or something of those words is there already.
    """
    called = new_words(shop, words)
    for count in (held, least):
        if not 0 <= count <= MOST_COUNT:
            raise CorrectInputError(
                tr("{count} pieces", count=count),
                tr("a whole number from 0 to {most_count}", most_count=MOST_COUNT),
                tr("such as 3"),
            )
    return shop.add(Stock, stamp, words=called, body=body, held_count=held, least_count=least)


def new_words(shop: Shop, words: str) -> str:
    """Return what something new on the shelf is called.

    Raises:
        CorrectInputError: no words, or something of those words is there already.
    """
    called = words.strip()
    if not called:
        raise CorrectInputError(tr("no words say what it is"), "", tr("such as: plain steel set, light"))
    if shop.every(Stock, words=called):
        raise CorrectInputError(
            tr('"{called}" is on the shelf already', called=called), "", tr("change its count")
        )
    return called


def count_stock(shop: Shop, stamp: Stamp, words: str, change: int) -> Stock:
    """Take from the shelf (negative) or put back, and return what lies there now.

    Raises:
        CorrectInputError: nothing of those words, fewer than are taken, or more than can be counted.
        EditedMeanwhileError: somebody else was at the shelf at the same moment.
    """
    found = shop.every(Stock, words=words)
    if not found:
        raise CorrectInputError(
            tr('there is no "{words}" on the shelf', words=words), "", tr("list it: breakangle stock")
        )
    if found[0].held_count + change < 0:
        raise CorrectInputError(
            tr("{change} are taken", change=-change),
            tr("{held_count} are there", held_count=found[0].held_count),
            tr("order more"),
        )
    if found[0].held_count + change > MOST_COUNT:
        raise CorrectInputError(
            tr("{change} are put back", change=change),
            tr("{most_count} at most", most_count=MOST_COUNT),
            tr("such as 3"),
        )
    return shop.change(found[0], stamp, held_count=found[0].held_count + change)


def to_order(shop: Shop) -> tuple[Stock, ...]:
    """Return what lies on the shelf in a smaller number than there should be."""
    with shop.reading() as connection:
        return lying_low(connection)


def shelf(shop: Shop) -> tuple[tuple[Stock, bool], ...]:
    """Return everything on the shelf, oldest first, and of each whether it is to be ordered."""
    return tuple((stock, stock.held_count < stock.least_count) for stock in shop.every(Stock))


def set_targets_of_sheet(
    shop: Shop, number: int, targets: Mapping[str, Any] | None, stamp: Stamp
) -> InstrumentRecord:
    """Keep what is wanted of the instrument that sheet `number` is about, as `set_targets` does.

    Raises:
        NoSuchRecordError: no such sheet.
        ServiceFileError: a target that cannot be right for this instrument.
    """
    record = shop.get(InstrumentRecord, visit_numbered(shop, number).instrument_id)
    return set_targets(shop, record, targets, stamp)


def set_targets(
    shop: Shop, record: InstrumentRecord, targets: Mapping[str, Any] | None, stamp: Stamp
) -> InstrumentRecord:
    """Keep what is wanted of an instrument: its coming visits begin with it. None: the house's again.

    Raises:
        ServiceFileError: a target that cannot be right for this instrument.
        EditedMeanwhileError: somebody has changed the instrument since it was seen.
    """
    if targets is None:
        return shop.change(record, stamp, targets=None)
    body = {"format": SERVICE_FORMAT, "instrument": json.loads(record.body), "targets": dict(targets)}
    service_from(json.dumps(body).encode(), tr("the targets"))
    return shop.change(record, stamp, targets=json.dumps(dict(targets)))
