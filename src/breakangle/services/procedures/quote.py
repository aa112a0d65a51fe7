"""A quote for a piece of work: minutes by its steps as this bench takes them, and what the price list has for it."""

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from breakangle.model.words.speech import mark
from breakangle.services.procedures.runs import known_facts
from breakangle.services.procedures.shelf import procedures
from breakangle.services.workshop.prices import price_list
from breakangle.storage.records.records import Price, Visit
from breakangle.storage.records.store import Shop

MINUTES_AN_HOUR = 60
QUARTER = Decimal("0.25")  # hours are charged by quarters; common practice, no source
SHORTEST = 4  # letters of a word that two wordings are told alike by; chosen
HOURLY = (mark("hour"), mark("bench time"))  # how a price list names labour by the hour


@dataclass(frozen=True)
class Offer:
    """A line of the price list that fits, and how many of it."""

    price: Price
    quantity: Decimal

    @property
    def amount(self) -> Decimal:
        """Return what it comes to."""
        return self.price.amount * self.quantity


@dataclass(frozen=True)
class Quote:
    """Minutes of the work by its steps, and the offers that the price list has for it; those of its own name first."""

    minutes: float
    offers: tuple[Offer, ...]


def quote(shop: Shop, visit: Visit, procedure: str, names: tuple[str, ...]) -> Quote:
    """Return time and price of a procedure on a visit's instrument.

    `names`: what the work is called, by which lines of the price list are found; labour by the hour counts its time.
    """
    facts = known_facts(shop, visit.id)
    found = next((one for one in procedures(shop, facts) if one.name == procedure), None)
    if found is None:
        return Quote(0.0, ())
    minutes = found.minutes
    listed = price_list(shop)
    named = [Offer(one, Decimal(1)) for one in listed if any(_alike(one.words, name) for name in names)]
    hours = (Decimal(minutes) / MINUTES_AN_HOUR / QUARTER).quantize(Decimal(1), ROUND_HALF_UP) * QUARTER
    taken = {one.price.id for one in named}
    hourly = [Offer(one, max(hours, QUARTER)) for one in listed if _hourly(one) and one.id not in taken]
    return Quote(minutes, (*named, *hourly))


def _hourly(one: Price) -> bool:
    return any(word in one.words.casefold() for word in HOURLY)


def _alike(price: str, name: str) -> bool:
    """Return whether a line of the price list is about this work: every longer word of its name stands in it."""
    stems = [
        word[:5] for word in re.findall(r"\w+", name.casefold()) if len(word) >= SHORTEST or word == "nut"
    ]
    said = re.findall(r"\w+", price.casefold())
    return bool(stems) and all(any(word.startswith(stem) for word in said) for stem in stems)
