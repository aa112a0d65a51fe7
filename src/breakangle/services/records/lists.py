"""The lists a shop keeps by hand, each added to with the fields that a person fills in."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.services.records.edit import CALLED, bring_back, count_typed, form, number_or_none
from breakangle.services.strings.shelf import add_stock, new_words
from breakangle.services.visits.visits import add_owner
from breakangle.services.workshop.gauges import check_gauge
from breakangle.services.workshop.prices import add_price
from breakangle.storage.records.records import Edited, Gauge, Stock
from breakangle.storage.records.store import RESTORABLE, Shop
from breakangle.storage.schema.stamp import Stamp

# What a person fills in of each kind, in that order.
ADDED: dict[str, tuple[str, ...]] = {
    "price": ("kind", "words", "amount"),
    "stock": ("words", "held_count", "least_count"),
    "gauge": ("name", "quantity", "spread", "notes"),
    "owner": ("name", "contact", "notes"),
}


def kept(shop: Shop, kind: str) -> tuple[Edited, ...]:
    """Return the rows of a list, oldest first.

    Raises:
        CorrectInputError: no such list.
    """
    _known(kind)
    return shop.every(form(kind))


def add_kept(shop: Shop, stamp: Stamp, kind: str, typed: Mapping[str, str]) -> Edited:
    """Store a new row of what was typed, and return it.

    Raises:
        CorrectInputError: no such list, or a value that cannot be right.
    """
    _known(kind)
    given = {name: typed.get(name, "").strip() for name in ADDED[kind]}
    return _ADD[kind](shop, stamp, given)


def drop_kept(shop: Shop, stamp: Stamp, kind: str, key: str, seen_version: int | None = None) -> Edited:
    """Delete a row as it was seen; for 30 days it can be brought back.

    Raises:
        CorrectInputError: no such list.
        NoSuchRecordError: no such row.
        EditedMeanwhileError: it has another version by now than the one that was seen.
    """
    _known(kind)
    row = shop.get(form(kind), key)
    return shop.delete(row if seen_version is None else replace(row, version=seen_version), stamp)


def dropped(shop: Shop, kind: str, now: datetime) -> tuple[Edited, ...]:
    """Return the rows of a list that were deleted and can still be brought back, the last deleted first.

    Raises:
        CorrectInputError: no such list.
    """
    _known(kind)
    gone = {one: one.deleted_at for one in shop.every(form(kind), deleted=True) if one.deleted_at is not None}
    recent = [one for one, at in gone.items() if now - at <= RESTORABLE]
    return tuple(sorted(recent, key=lambda one: gone[one], reverse=True))


def bring_back_kept(shop: Shop, stamp: Stamp, kind: str, key: str) -> Edited:
    """Bring a deleted row back to its list and return it; one that is back already stays as it is.

    Raises:
        CorrectInputError: no such list, it was deleted more than 30 days ago, or its like is on the shelf by now.
        NoSuchRecordError: no such row.
    """
    _known(kind)
    row = shop.get(form(kind), key, deleted=True)
    if row.deleted_at is None:
        return row
    if isinstance(row, Stock):
        new_words(shop, row.words)
    return bring_back(shop, kind, key, stamp)


def _known(kind: str) -> None:
    if kind not in ADDED:
        raise CorrectInputError(
            tr('"{kind}" is no list of the shop', kind=kind),
            tr("one of {added}", added=", ".join(ADDED)),
            tr("choose one"),
        )


def _stock(shop: Shop, stamp: Stamp, given: Mapping[str, str]) -> Edited:
    held, least = (
        count_typed(given[name] or "0", tr(CALLED[name])) for name in ("held_count", "least_count")
    )
    return add_stock(shop, stamp, given["words"], held, least)


def _gauge(shop: Shop, stamp: Stamp, given: Mapping[str, str]) -> Edited:
    if not given["name"]:
        raise CorrectInputError(tr("the gauge has no name"), "", tr("give one"))
    spread = number_or_none(given["spread"], tr(CALLED["spread"]))
    check_gauge(given["quantity"], spread)
    return shop.add(
        Gauge, stamp, name=given["name"], quantity=given["quantity"], spread=spread, notes=given["notes"]
    )


_ADD: dict[str, Callable[[Shop, Stamp, Mapping[str, str]], Edited]] = {
    "price": lambda shop, stamp, given: add_price(
        shop, stamp, given["kind"], given["words"], given["amount"]
    ),
    "stock": _stock,
    "gauge": _gauge,
    "owner": lambda shop, stamp, given: add_owner(
        shop, stamp, given["name"], given["contact"], given["notes"]
    ),
}
