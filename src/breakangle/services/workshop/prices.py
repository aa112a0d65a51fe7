"""Estimates and bills: labour and parts, tax as the shop sets it, totals to the cent in decimals."""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.typed_number import number_typed
from breakangle.model.words.speech import mark, tr
from breakangle.storage.records.records import Line, Price, Setting, Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import NoSuchRecordError
from breakangle.storage.schema.stamp import Stamp

KINDS = ("labour", "part")
AGREED = mark("Agreed price")  # what the line of a price agreed at take-in is for
FOOT_KEY = "foot_key"  # the key of a pedal that records; empty: none does
DEFAULTS = {
    "currency": "EUR",
    "currency_digits": "2",
    "tax_percent": "0",
    "tax_included": "no",
    FOOT_KEY: "",
}
# What pedals can send, as browsers name it; Page Up and Page Down are not among them: they only ever move.
FOOT_KEYS = (
    *(f"F{number}" for number in (2, 4, 7, 8, 9, 10, *range(13, 21))),
    "Insert",
    *(f"Arrow{way}" for way in ("Left", "Right", "Up", "Down")),
    "Home",
    "End",
)
MOST, MOST_QUANTITY = Decimal(10) ** 9, Decimal(100_000)


@dataclass(frozen=True)
class Bill:
    """What a sheet comes to; every amount to the currency's smallest coin, `currency_digits` after the point."""

    number: int
    lines: tuple[tuple[Line, Decimal], ...]
    net: Decimal
    tax: Decimal
    total: Decimal
    tax_percent: Decimal
    currency: str
    currency_digits: int


def setting(shop: Shop, name: str) -> str:
    """Return one of the shop's settings, or what it is until somebody sets it.

    Raises:
        CorrectInputError: no such setting.
    """
    if name not in DEFAULTS:
        raise CorrectInputError(
            tr('"{name}" is not a setting', name=name),
            tr("one of {defaults}", defaults=", ".join(DEFAULTS)),
            tr("choose one"),
        )
    try:
        return shop.get(Setting, name).value
    except NoSuchRecordError:
        return DEFAULTS[name]


def settings(shop: Shop) -> dict[str, str]:
    """Return all of the shop's settings, as `setting` does each."""
    return DEFAULTS | {one.id: one.value for one in shop.every(Setting) if one.id in DEFAULTS}


def set_setting(shop: Shop, name: str, value: str, stamp: Stamp) -> Setting:
    """Store one of the shop's settings.

    Raises:
        CorrectInputError: no such setting, or a value that it cannot have.
    """
    setting(shop, name)
    if name == "tax_percent":
        value = f"{_percent(value):f}"
    if name == "currency_digits" and value not in ("0", "1", "2", "3"):
        raise CorrectInputError(tr("{value} digits", value=value), tr("0 to 3 digits after the point"), "")
    if name == FOOT_KEY and value not in ("", *FOOT_KEYS):
        possible = tr("nothing, or one of {foot_keys}", foot_keys=", ".join(FOOT_KEYS))
        raise CorrectInputError(tr('"{value}" does not record', value=value[:40]), possible, tr("choose one"))
    if name == "tax_included" and value not in ("yes", "no"):
        raise CorrectInputError(f'"{value}"', tr("yes or no"), "")
    if name == "currency" and not (len(value) == 3 and value.isascii() and value.isupper()):
        raise CorrectInputError(f'"{value}"', tr("a currency's three capital letters, such as EUR"), "")
    try:
        return shop.change(shop.get(Setting, name), stamp, value=value)
    except NoSuchRecordError:
        return shop.add(Setting, stamp, name, value=value)


def add_price(shop: Shop, stamp: Stamp, kind: str, words: str, amount: str) -> Price:
    """Store a line of the price list.

    Raises:
        CorrectInputError: a kind other than labour or part, no words, or an amount that is none.
    """
    price = exact_amount(amount, tr("the price"), currency_digits(shop))
    return shop.add(Price, stamp, kind=price_kind(kind), words=_worded(words), amount=price)


def price_list(shop: Shop) -> tuple[Price, ...]:
    """Return the price list, oldest first."""
    return shop.every(Price)


def add_line(
    shop: Shop, stamp: Stamp, visit: Visit, kind: str, words: str, amount: str, quantity: str = "1"
) -> Line:
    """Store a line of the visit's sheet; `amount` is for one.

    Raises:
        CorrectInputError: a kind other than labour or part, no words, or a number that is none.
    """
    price = exact_amount(amount, tr("the price"), currency_digits(shop))
    count = exact_quantity(quantity)
    told = {"kind": price_kind(kind), "words": _worded(words)}
    return shop.add(Line, stamp, visit_id=visit.id, quantity=count, amount=price, **told)


def agreed_typed(shop: Shop, text: str) -> dict[str, Any]:
    """Return the values of the line that a price agreed at take-in makes; empty where none was typed.

    Raises:
        CorrectInputError: a number that is none.
    """
    if not text.strip():
        return {}
    amount = exact_amount(text, tr("the agreed price"), currency_digits(shop))
    return {"kind": price_kind("labour"), "words": tr(AGREED), "quantity": Decimal(1), "amount": amount}


def bill(shop: Shop, visit: Visit) -> Bill:
    """Return what the visit's sheet comes to: each line rounded to the coin, the tax once, on their sum."""
    told = settings(shop)
    digits = int(told["currency_digits"])
    coin = Decimal(1).scaleb(-digits)
    percent = _percent(told["tax_percent"])
    found = shop.every(Line, visit_id=visit.id)
    lines = tuple((one, _rounded(one.quantity * one.amount, coin)) for one in found)
    together = sum((amount for _, amount in lines), Decimal(0)).quantize(coin)
    if told["tax_included"] == "yes":
        tax = _rounded(together * percent / (100 + percent), coin)
        net, total = together - tax, together
    else:
        tax = _rounded(together * percent / 100, coin)
        net, total = together, together + tax
    return Bill(visit.number, lines, net, tax, total, percent, told["currency"], digits)


def currency_digits(shop: Shop) -> int:
    """Return how many digits the shop's currency has after the point."""
    return int(setting(shop, "currency_digits"))


def exact_amount(text: str, what: str, digits: int = 2) -> Decimal:
    """Return the amount of money that `text` says; `what` names it where it cannot be one.

    Args:
        text: what was typed, as the screen writes it or plain.
        what: its name.
        digits: how many the currency has after the point.

    Raises:
        CorrectInputError: no number, one beyond a billion, or one that could be two.
    """
    return number_typed(text, what, -MOST, MOST, digits)


def exact_quantity(text: str) -> Decimal:
    """Return the quantity of a line that `text` says.

    Raises:
        CorrectInputError: no number from 0, one beyond a hundred thousand, or one that could be two.
    """
    return number_typed(text, tr("the quantity"), Decimal(0), MOST_QUANTITY)


def _rounded(amount: Decimal, coin: Decimal) -> Decimal:
    return amount.quantize(coin, ROUND_HALF_UP)


def price_kind(kind: str) -> str:
    """Return what is charged, labour or part.

    Raises:
        CorrectInputError: neither.
    """
    if kind not in KINDS:
        raise CorrectInputError(f'"{kind}"', tr("labour or part"), tr("choose one"))
    return kind


def _worded(words: str) -> str:
    if not words.strip():
        raise CorrectInputError(tr("no words say what is charged"), "", tr("such as: set-up"))
    return words.strip()


def _percent(text: str) -> Decimal:
    return number_typed(text, "tax", Decimal(0), Decimal(100))
