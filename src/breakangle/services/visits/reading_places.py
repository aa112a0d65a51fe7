"""Where a reading is taken, apart from what it reads: quantity, string, fret, and what is held or sounded."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from pydantic import ValidationError

from breakangle.model.complaint import complaints
from breakangle.model.errors import CorrectInputError
from breakangle.model.reading import Reading
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.kinds.kind import ReadingKind
from breakangle.planning.kinds.reading_names import reading_named
from breakangle.planning.kinds.registry import reading_kinds

_KEY = re.compile(
    r"(?P<quantity>[a-z-]{1,30})_(?P<string>\d{1,2})_(?P<fret>\d{1,2})"
    r"(?:_h(?P<held>\d{1,2}(?:-\d{1,2}){0,3}))?(?:_n(?P<harmonic>\d{1,2}))?"
)


@dataclass(frozen=True)
class Place:
    """One place of one quantity; two readings of one place are the same reading taken twice."""

    quantity: str
    string: int
    fret: int
    held: tuple[int, ...] = ()
    harmonic: int | None = None

    @property
    def key(self) -> str:
        """Return the place as a short text without blanks, such as `gap_6_8_h1-17`."""
        held = f"_h{'-'.join(map(str, self.held))}" if self.held else ""
        return (
            f"{self.quantity}_{self.string}_{self.fret}{held}{f'_n{self.harmonic}' if self.harmonic else ''}"
        )

    @property
    def kind(self) -> ReadingKind:
        """Return the kind of reading that is taken here."""
        return reading_kinds()[self.quantity]

    def body(self, **value: float) -> dict[str, Any]:
        """Return a reading of this place as the service file has it, with its `value` under a key with a unit."""
        known = self.kind.model.model_fields
        found: dict[str, Any] = {"quantity": self.quantity, "string": self.string, "fret": self.fret}
        if "held" in known:
            found["held"] = list(self.held)
        if "harmonic" in known and self.harmonic is not None:
            found["harmonic"] = self.harmonic
        return found | value

    def blank(self) -> Reading:
        """Return a reading of this place that reads nothing: for what it should read, and for its words."""
        return self.kind.model.model_validate(self.body(**{self.kind.unit: 0.0}))

    @property
    def words(self) -> str:
        """Return the place in words, such as `string 6 over fret 8, with frets 1 and 17 held`."""
        return self.kind.place(self.blank())

    @property
    def named(self) -> str:
        """Return what is read here as the trade says it: `action, string 1, fret 12 with fret 1 held`."""
        return reading_named(self.blank())

    def agree(self, before: Mapping[str, Any], now: Mapping[str, Any]) -> bool:
        """Return whether two figures read here, as the service file has them, differ by no more than gauges do.

        Derived: the difference of two readings has √2 of the spread of one; three times that is taken.
        """
        most = 3.0 * np.sqrt(2.0) * self.kind.gauge_spread
        if before.get("hz") and now.get("hz"):
            return bool(abs(1200.0 * np.log2(now["hz"] / before["hz"])) <= most)
        first, second = before.get(self.kind.unit), now.get(self.kind.unit)
        return first is not None and second is not None and bool(abs(second - first) <= most)


def place_of(reading: Reading) -> Place:
    """Return where a reading was taken."""
    held, harmonic = getattr(reading, "held", ()), getattr(reading, "harmonic", None)
    return Place(reading.quantity, reading.string, reading.fret, tuple(held), harmonic)


def place_keyed(key: str) -> Place:
    """Return the place that `Place.key` wrote.

    Raises:
        CorrectInputError: no such text, or a quantity that nobody reads.
    """
    found = _KEY.fullmatch(key)
    if found is None or found["quantity"] not in reading_kinds():
        raise CorrectInputError(
            tr('"{key}" is no place of a reading', key=key[:60]), "", tr("choose one of the page")
        )
    held = tuple(int(one) for one in found["held"].split("-")) if found["held"] else ()
    harmonic = int(found["harmonic"]) if found["harmonic"] else None
    return place_at(found["quantity"], int(found["string"]), int(found["fret"]), held, harmonic)


def place_at(
    quantity: str, string: int, fret: int, held: tuple[int, ...] = (), harmonic: int | None = None
) -> Place:
    """Return the place, checked by itself; whether an instrument has it is the instrument's to say.

    Raises:
        CorrectInputError: no such quantity, or nothing that can be read there.
    """
    if quantity not in reading_kinds():
        raise CorrectInputError(
            tr('"{quantity}" is no reading', quantity=quantity[:60]),
            tr("one of {reading_kinds}", reading_kinds=", ".join(reading_kinds())),
            "",
        )
    place = Place(quantity, string, fret, held, harmonic)
    try:
        place.blank()
    except ValidationError as cause:
        first = complaints(cause, place.kind.model, place.body(**{place.kind.unit: 0.0}))[0]
        raise CorrectInputError(first.removeprefix("$."), "", tr("choose another place")) from cause
    return place


# What the others tell of a place, as one over a variance (1/mm² or 1/cents²): less, or nothing, means that the reading
# was weighed as a slip and has no part in the belief that could be taken out of it again. Common practice, no source.
LEAST_LEFT = 1e-5


@dataclass(frozen=True)
class Expected:
    """What a place should read: value, and one standard deviation of what a gauge would show, in `unit`."""

    value: float
    spread: float
    unit: str

    def spreads_off(self, read: float) -> float:
        """Return by how many spreads `read` lies off."""
        return abs(read - self.value) / self.spread


def expected(places: Sequence[Place], now: Estimate) -> dict[Place, Expected]:
    """Return what each of these places should read in the state `now`, its gauge's own spread included."""
    found: dict[Place, Expected] = {}
    for name in dict.fromkeys(place.quantity for place in places):
        kind, here = reading_kinds()[name], [place for place in places if place.quantity == name]
        told = kind.predict([one.blank() for one in here], now.picture)
        spreads = np.sqrt(now.belief.spread(told.rows) ** 2 + kind.gauge_spread**2 + told.unexplained**2)
        # A gap is never less than nothing: a string that rests on a crown shows none.
        least = 0.0 if name == "gap" else -np.inf
        for one, value, spread in zip(here, told.values, spreads, strict=True):
            found[one] = Expected(max(float(value), least), float(spread), kind.unit)
    return found


def expected_beside(readings: Sequence[Reading], now: Estimate) -> list[Expected]:
    """Return what the other readings led one to expect where each of `readings`, all behind `now`, was taken.

    A reading's own part is taken out of the belief again, exact as long as readings are linear in the state.

    Source: leave-one-out prediction, Cook and Weisberg (1982), Residuals and Influence in Regression, section
    2.2. [memory]
    """
    found: list[Expected | None] = [None] * len(readings)
    for name in dict.fromkeys(reading.quantity for reading in readings):
        kind = reading_kinds()[name]
        at = [index for index, one in enumerate(readings) if one.quantity == name]
        told = kind.predict([readings[index] for index in at], now.picture)
        own = now.belief.spread(told.rows) ** 2
        for place, index in enumerate(at):
            noise = kind.spread(readings[index]) ** 2 + float(told.unexplained[place]) ** 2
            found[index] = _beside(
                kind, readings[index], now, float(told.values[place]), float(own[place]), noise
            )
    return [one for one in found if one is not None]


def _beside(
    kind: ReadingKind, reading: Reading, now: Estimate, fitted: float, own: float, noise: float
) -> Expected:
    """Return what was expected where the fit is `fitted`, its variance `own` and the reading's own variance `noise`."""
    surprise = next((one for one in now.surprises if one.reading == reading), None)
    if surprise is not None:
        off = abs(surprise.read - surprise.expected)
        return Expected(surprise.expected, max(off, 1e-9) / max(surprise.spreads, 1e-9), kind.unit)
    if own <= 0.0:
        return Expected(fitted, float(np.sqrt(noise)), kind.unit)
    left = 1.0 / own - 1.0 / noise
    if left < LEAST_LEFT:
        return Expected(fitted, float(np.sqrt(own + noise)), kind.unit)
    value = (fitted / own - kind.value(reading, now.board) / noise) / left
    return Expected(float(value), float(np.sqrt(1.0 / left + noise)), kind.unit)
