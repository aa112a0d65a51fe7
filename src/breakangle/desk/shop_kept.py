"""The lists a shop keeps by hand, each added to with the fields that a person fills in."""

from collections.abc import Callable, Mapping

from breakangle.desk.shop_edit import form
from breakangle.desk.shop_prices import add_price
from breakangle.desk.shop_shelf import add_stock
from breakangle.desk.shop_visits import add_owner
from breakangle.model.errors import CorrectInputError
from breakangle.shop.records import Edited, Gauge
from breakangle.shop.stamp import Stamp
from breakangle.shop.store import Shop

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


def drop_kept(shop: Shop, stamp: Stamp, kind: str, key: str) -> Edited:
    """Delete a row; for 30 days it can be restored.

    Raises:
        CorrectInputError: no such list.
        NoSuchRecordError: no such row.
    """
    _known(kind)
    return shop.delete(shop.get(form(kind), key), stamp)


def _known(kind: str) -> None:
    if kind not in ADDED:
        raise CorrectInputError(
            f'"{kind}" is no list of the shop', f"one of {', '.join(ADDED)}", "choose one"
        )


def _stock(shop: Shop, stamp: Stamp, given: Mapping[str, str]) -> Edited:
    return add_stock(shop, stamp, given["words"], _count(given["held_count"]), _count(given["least_count"]))


def _gauge(shop: Shop, stamp: Stamp, given: Mapping[str, str]) -> Edited:
    if not given["name"]:
        raise CorrectInputError("the gauge has no name", "", "give one")
    try:
        spread = float(given["spread"].replace(",", ".")) if given["spread"] else None
    except ValueError as cause:
        raise CorrectInputError(f'spread is "{given["spread"]}"', "a number", "such as 0.02") from cause
    return shop.add(
        Gauge, stamp, name=given["name"], quantity=given["quantity"], spread=spread, notes=given["notes"]
    )


def _count(text: str) -> int:
    if not (text or "0").isdecimal():
        raise CorrectInputError(f'"{text}" pieces', "a whole number from 0", "such as 3")
    return int(text or "0")


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
