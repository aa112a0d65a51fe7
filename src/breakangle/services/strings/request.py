"""What the strings page asks: weighed strings, sizes for wished pulls, and strings that come from the shelf."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument, String
from breakangle.model.measure import parse_length
from breakangle.model.service import Service
from breakangle.model.typed_number import decimals_typed, number_within
from breakangle.model.words.speech import tr
from breakangle.reference.strings import make, makes
from breakangle.services.strings.sizes import Candidate, GaugeChoice, find_gauges, fitted
from breakangle.services.strings.stock import (
    OnShelf,
    low_strings,
    pack_on,
    shelf_strings,
    strings_among,
    strings_on_shelf,
    unknown_among,
)
from breakangle.services.strings.string_set import SCALE_SD_G, SetFigures, UnitMass, printed, strings, weighed
from breakangle.services.strings.typed_strings import StringsTyped, put_on, typed_strings
from breakangle.services.visits.entries import sent_before
from breakangle.services.visits.used_parts import take_stock
from breakangle.storage.records.entries import entry_sent
from breakangle.storage.records.records import Entry, Stock, Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import Stamp

LONGEST_NUMBER = 20
LARGEST = 1e12
SAME_MM = 1e-3  # finer than any caliper reads; common practice, no source


@dataclass(frozen=True)
class StringsAsked:
    """The strings page: what is on, sizes that were found, what of them fills the boxes, and packs that fit.

    `fills`: candidates by string number. `low`: packs and singles that are to be ordered. `sets`: what on the
    shelf may be a new set for this instrument: packs that fit, then what lies there without its strings being known.
    """

    instrument: Instrument
    figures: SetFigures
    masses: Mapping[int, UnitMass]
    choices: tuple[GaugeChoice, ...]
    fills: Mapping[int, Candidate]
    packs: tuple[OnShelf, ...]
    low: tuple[OnShelf, ...]
    sets: tuple[Stock, ...]


@dataclass(frozen=True)
class Asked:
    """Strings that are to go on, and how many of what lies on the shelf that takes."""

    strings: tuple[String, ...]
    takes: tuple[tuple[Stock, int], ...]


def strings_asked(shop: Shop, service: Service, typed: StringsTyped, own_unit: str = "mm") -> StringsAsked:
    """Return what the strings page shows for what was typed on it.

    Args:
        shop: where.
        service: the visit's.
        typed: weights and printed masses; where sizes are to be found, the wished pulls.
        own_unit: mm or in: what a bare length is in.

    Raises:
        CorrectInputError: a number that cannot be right; the string is named.
    """
    instrument = service.instrument_now()
    masses = typed_masses(instrument, typed, own_unit)
    figures = strings(service, masses)
    choices: tuple[GaugeChoice, ...] = ()
    if typed.find_sizes:
        total = typed.total_pull
        choices = find_gauges(
            service, _wishes(instrument, typed),
            _number(total, tr("the pull of all together")) if total else figures.total_n.value,
            shelf=shelf_strings(shop) if typed.only_shelf else None,
        )  # fmt: skip
    fills = {choice.string: choice.best.candidate for choice in choices if choice.best is not None}
    shelf = shop.every(Stock)
    lying = strings_among(shelf)
    packs = tuple(one for one in lying if _goes_on(one, instrument))
    sets = (*(pack.record for pack in packs), *unknown_among(shelf))
    return StringsAsked(instrument, figures, masses, choices, fills, packs, low_strings(lying), sets)


def strings_unknown(shop: Shop) -> tuple[Stock, ...]:
    """Return what lies on the shelf without its strings being known: a set by its words alone, or any part."""
    return unknown_among(shop.every(Stock))


def typed_masses(instrument: Instrument, typed: StringsTyped, own_unit: str = "mm") -> dict[int, UnitMass]:
    """Return the unit masses that were typed, by string number: a weighing comes before a printed one.

    A scale is trusted to half the last digit that was typed, and to 0.005 g at best.

    Raises:
        CorrectInputError: a weight without its length, or a number that cannot be right.
    """
    found = {}
    for string in instrument.in_order():
        who = tr("string {string}", string=string.string)
        box = typed.of(string.string)
        grams, length, maker = box.weight, box.piece_length, box.printed_mass
        if bool(grams) != bool(length):
            missing = tr("weight") if length else tr("length")
            raise CorrectInputError(
                tr("{who}: its {missing} is missing", who=who, missing=missing),
                "",
                tr("type the {missing} as well", missing=missing),
            )
        if grams:
            step_g = 0.5 * 10.0 ** -decimals_typed(grams)
            piece_mm = parse_length(length, own_unit).mm
            found[string.string] = weighed(
                _number(grams, tr("{who}: weight", who=who)), piece_mm, max(SCALE_SD_G, step_g)
            )
        elif maker:
            found[string.string] = printed(_number(maker, tr("{who}: mass", who=who)), decimals_typed(maker))
    return found


def asked_strings(shop: Shop, instrument: Instrument, typed: StringsTyped, own_unit: str = "mm") -> Asked:
    """Return the strings that were asked for, and what they take from the shelf.

    Args:
        shop: where.
        instrument: as it is strung now.
        typed: a pack, or strings, those from the shelf with their record.
        own_unit: mm or in: what a bare number is in.

    Raises:
        CorrectInputError: a size, make or note that cannot be right, or a pack that does not fit.
        NoSuchRecordError: nothing of that record on the shelf.
    """
    lying = {one.record.id: one for one in strings_on_shelf(shop)}
    if typed.pack_record:
        pack = lying.get(typed.pack_record)
        if pack is None:
            raise CorrectInputError(
                tr("that pack is not on the shelf"), tr("one that lies there"), tr("choose another")
            )
        return Asked(pack_on(pack, instrument.in_order()), ((pack.record, 1),))
    old = {string.string: string for string in instrument.strings}
    found: list[String] = []
    takes = Counter[str]()
    for one in typed_strings(instrument, typed, own_unit):
        source = lying.get(typed.of(one.string).shelf_record)
        each = None if source is None else _lying_there(source, one)
        if source is None or each is None:
            found.append(one)
            continue
        takes[source.record.id] += 1
        same = (each.make, each.diameter_mm, each.core_mm) == _kind(old[one.string])
        found.append(one if same else fitted(one, each))
    taken = [(lying[key], count) for key, count in takes.items()]
    counted = [(one.record, 1 if one.stock.kind == "pack" else count) for one, count in taken]
    if typed.set_record:
        counted.append((shop.get(Stock, typed.set_record), 1))
    return Asked(tuple(found), tuple(counted))


def put_on_asked(
    shop: Shop,
    visit: Visit,
    instrument: Instrument,
    typed: StringsTyped,
    stamp: Stamp,
    own_unit: str = "mm",
    key: str | None = None,
) -> Entry:
    """Store that the strings that were asked for went on, take them from the shelf, and return the entry.

    Both are stored, or neither. Sent again with the same `key`, nothing is stored again.

    Raises:
        CorrectInputError: as `asked_strings`, or the shelf has fewer than it takes: then nothing is stored.
    """
    if key is not None:
        with shop.reading() as connection:
            stored = entry_sent(connection, key)
        if stored is not None:
            return stored  # what was typed is not asked again of strings that are on by now
    asked = asked_strings(shop, instrument, typed, own_unit)
    with shop.writing() as connection:
        stored = sent_before(connection, key, stamp)
        if stored is not None:
            return stored
        made = put_on(connection, visit, asked.strings, stamp, key)
        for stock, count in sorted(asked.takes, key=lambda one: one[0].id):
            take_stock(connection, visit, stock.id, count, stamp)
    return made


def _wishes(instrument: Instrument, typed: StringsTyped) -> dict[int, float]:
    boxes = {string.string: typed.of(string.string).pull for string in instrument.in_order()}
    return {key: _number(text, tr("string {key}: pull", key=key)) for key, text in boxes.items() if text}


def _goes_on(one: OnShelf, instrument: Instrument) -> bool:
    """Return whether a pack lies there that has each of the instrument's strings, steel for steel."""
    if one.stock.kind != "pack" or one.record.held_count < 1:
        return False
    places = {each.string or index: each for index, each in enumerate(one.stock.strings, 1)}
    wanted = {string.string: string.make for string in instrument.strings}
    return set(places) == set(wanted) and all(
        places[number].make in makes() and make(places[number].make).soft == make(key).soft
        for number, key in wanted.items()
    )


def _lying_there(source: OnShelf, wanted: String) -> Candidate | None:
    """Return the string of that make and size in what lies there."""
    for string in source.stock.strings:
        if string.make == wanted.make and abs(string.diameter_mm - wanted.diameter_mm) <= SAME_MM:
            return Candidate(
                string.make, string.diameter_mm, string.core_mm, string.wrap, string.unit_mass_g_per_m
            )
    return None


def _kind(one: String) -> tuple[str, float, float | None]:
    return one.make, one.diameter_mm, one.core_mm


def _number(text: str, what: str) -> float:
    number = number_within(text, -LARGEST, LARGEST)
    if number is None:
        raise CorrectInputError(
            tr('{what} is "{text}"', what=what, text=text[:LONGEST_NUMBER]), "a number", tr("such as 6.71")
        )
    return number
