"""Strings on the shelf: packs and singles, what they cost, what runs low, and what each visit used."""

import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, ValidationError
from pydantic_core import PydanticCustomError

from breakangle.model.complaint import complaints
from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import DiameterMm, String
from breakangle.model.service_file import ServiceFileError
from breakangle.model.words.noun import Between, Noun, StringNumber
from breakangle.model.words.speech import tr
from breakangle.reference.strings import makes, wraps
from breakangle.services.strings.shelf import add_stock
from breakangle.services.strings.sizes import Candidate
from breakangle.storage.records.records import Stock
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import Stamp

COST = re.compile(r"\d{1,7}(\.\d{1,4})?", re.ASCII)


def _cost(text: str) -> str:
    if not COST.fullmatch(text):
        raise PydanticCustomError(
            "cost", tr("no cost"), {"allowed": tr("what one costs, in plain digits, such as 12.50")}
        )
    return text


class ShelfString(Noun):
    """One string as it lies on the shelf; `string` is its place in a pack, None for a single."""

    make: Annotated[str, Field(min_length=1, max_length=60)]
    diameter_mm: DiameterMm
    core_mm: DiameterMm | None = None
    wrap: Annotated[str, Field(min_length=1, max_length=60)] | None = None
    unit_mass_g_per_m: Annotated[float, Between(0.01, 100.0, "g/m")] | None = None
    string: StringNumber | None = None


class StringStock(Noun):
    """What the shelf knows of strings: a pack holds a set, a single one string; `cost` is for one of them."""

    kind: Literal["pack", "single"]
    cost: Annotated[str, AfterValidator(_cost)] | None = None
    strings: Annotated[tuple[ShelfString, ...], Field(min_length=1, max_length=18)]


@dataclass(frozen=True)
class OnShelf:
    """A pack or single with its record: how many lie there, what one costs, and whether it runs low."""

    record: Stock
    stock: StringStock
    cost: Decimal | None
    low: bool

    @property
    def worth(self) -> Decimal | None:
        """Return what all of them cost together."""
        return None if self.cost is None else self.cost * self.record.held_count


def add_strings(
    shop: Shop, stamp: Stamp, words: str, stock: StringStock | dict[str, Any], held: int, least: int = 0
) -> OnShelf:
    """Put packs or singles on the shelf and return them; below `least` they are to be ordered.

    Raises:
        ServiceFileError: a make, size or cost that cannot be right, with its place.
        CorrectInputError: no words, a negative count, or something of those words is there already.
    """
    made = stock if isinstance(stock, StringStock) else string_stock_from(stock, words)
    _heard(made, words)
    record = add_stock(shop, stamp, words, held, least, made.model_dump_json(exclude_unset=True))
    return _on_shelf(record, made)


def string_stock_from(data: Any, source: str) -> StringStock:
    """Return what `data` (as from JSON) says of strings on the shelf, checked.

    Raises:
        ServiceFileError: values that cannot be right, each with its place.
    """
    try:
        found = StringStock.model_validate_json(json.dumps(data))
    except ValidationError as refused:
        raise ServiceFileError(complaints(refused, StringStock, data), source) from refused
    _heard(found, source)
    return found


def strings_on_shelf(shop: Shop) -> tuple[OnShelf, ...]:
    """Return every pack and single of strings, in the order they were put there; other stock is left out."""
    return strings_among(shop.every(Stock))


def strings_among(shelf: Iterable[Stock]) -> tuple[OnShelf, ...]:
    """Return the packs and singles of strings among what lies on the shelf, in its order."""
    found = ((record, _strings_in(record.body, record.words)) for record in shelf)
    return tuple(_on_shelf(record, stock) for record, stock in found if stock is not None)


def unknown_among(shelf: Iterable[Stock]) -> tuple[Stock, ...]:
    """Return what lies on the shelf without its strings being known: a set by its words alone, or any part."""
    return tuple(one for one in shelf if one.held_count > 0 and _strings_in(one.body, one.words) is None)


# A shelf is read at every look at the strings, and what a pack holds hardly ever changes.
@lru_cache(maxsize=2048)
def _strings_in(body: str, words: str) -> StringStock | None:
    """Return what a record of the shelf says of strings; None where it is no pack and no single."""
    data = json.loads(body or "{}")
    if not isinstance(data, dict) or data.get("kind") not in ("pack", "single"):
        return None
    return string_stock_from(data, words)


def low_strings(on_shelf: Iterable[OnShelf]) -> tuple[OnShelf, ...]:
    """Return those that lie there in a smaller number than there should be."""
    return tuple(one for one in on_shelf if one.record.held_count < one.record.least_count)


def shelf_strings(shop: Shop) -> tuple[Candidate, ...]:
    """Return every string that can be taken from the shelf now, for `services.strings.sizes.find_gauges`."""
    return tuple(
        Candidate(
            string.make, string.diameter_mm, string.core_mm, string.wrap, string.unit_mass_g_per_m,
            one.record.words, one.record.held_count, one.record.id,
        )
        for one in strings_on_shelf(shop)
        if one.record.held_count > 0
        for string in one.stock.strings
    )  # fmt: skip


def pack_on(pack: OnShelf, old: Sequence[String]) -> tuple[String, ...]:
    """Return a pack as the new strings of an instrument strung with `old`, each in its place, tuned as before.

    Raises:
        CorrectInputError: a single, or a pack of another number of strings than the instrument has.
    """
    from breakangle.services.strings.sizes import fitted

    places = {each.string or index + 1: each for index, each in enumerate(pack.stock.strings)}
    numbers = {one.string for one in old}
    if pack.stock.kind != "pack" or set(places) != numbers:
        raise CorrectInputError(
            tr(
                '"{record_words}" has strings {str}',
                record_words=pack.record.words,
                str=", ".join(map(str, sorted(places))),
            ),
            tr("a pack for strings 1 to {numbers_count}", numbers_count=len(numbers)),
        )
    found = []
    for one in old:
        each = places[one.string]
        same = (each.make, each.diameter_mm, each.core_mm) == (one.make, one.diameter_mm, one.core_mm)
        candidate = Candidate(each.make, each.diameter_mm, each.core_mm, each.wrap, each.unit_mass_g_per_m)
        found.append(one if same else fitted(one, candidate))
    return tuple(found)


def _on_shelf(record: Stock, stock: StringStock) -> OnShelf:
    cost = None if stock.cost is None else Decimal(stock.cost)
    return OnShelf(record, stock, cost, record.held_count < record.least_count)


def _heard(stock: StringStock, source: str) -> None:
    """Refuse makes and wraps that the tables do not have.

    Raises:
        ServiceFileError: unknown names, each with its place and the known ones.
    """
    problems = []
    for index, one in enumerate(stock.strings):
        for key, value, known in (("make", one.make, makes()), ("wrap", one.wrap, wraps())):
            if value is not None and value not in known:
                problems.append(
                    tr(
                        "$.strings[{index}].{key} is {value!r}; it must be one of {known}",
                        index=index,
                        key=key,
                        value=value,
                        known=", ".join(known),
                    )
                )
    if problems:
        raise ServiceFileError(problems, source)
