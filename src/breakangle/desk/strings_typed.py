"""Strings as a person types them beside those that are on: sizes, makes and notes, only what differs."""

from collections.abc import Mapping
from typing import Any

from breakangle.desk.shop_readings import do_adjustment
from breakangle.desk.shop_used import use_stock
from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument, String
from breakangle.model.measure import parse_length
from breakangle.model.pitch import semitones_from_a4
from breakangle.shop.records import Entry, Stock, Visit
from breakangle.shop.stamp import Stamp
from breakangle.shop.store import Shop
from breakangle.tables.strings import makes

THINNEST_MM, THICKEST_MM = 0.1, 6.0
COMPUTED = ("unit_mass_g_per_m", "axial_stiffness_n", "bending_stiffness_n_mm2")


def typed_strings(
    instrument: Instrument, typed: Mapping[str, str], own_unit: str = "mm", every: bool = False
) -> tuple[String, ...]:
    """Return the strings that were typed, from `diameter-1`, `make-1`, `note-1` and so on.

    Args:
        instrument: as it is strung now.
        typed: the boxes; an empty or missing one leaves what is there.
        own_unit: mm or in: what a bare number is in.
        every: strings typed as they are count as fresh ones of the same kind; else they stay on.

    Raises:
        CorrectInputError: a size, make or note that cannot be right; the string is named.
    """
    found = []
    for one in instrument.in_order():
        fresh = _typed(one, typed, own_unit)
        if every or fresh != one:
            found.append(fresh)
    return tuple(found)


def put_on(shop: Shop, visit: Visit, strings: tuple[String, ...], stamp: Stamp, stock_id: str = "") -> Entry:
    """Store that these strings went on, and take the set from the shelf where it is named; return the entry.

    Raises:
        CorrectInputError: no strings, or the shelf has none of that set.
        ServiceFileError: strings that this instrument does not have.
    """
    if not strings:
        raise CorrectInputError("no string is changed", "", "change a size, or choose a whole new set")
    clean = [one.model_dump(mode="json", exclude_none=True, exclude_unset=True) for one in strings]
    made = do_adjustment(shop, visit.id, {"adjust": "restring", "strings": clean}, stamp)
    if stock_id:
        use_stock(shop, visit, shop.get(Stock, stock_id), 1, stamp)
    return made


def _typed(one: String, typed: Mapping[str, str], own_unit: str) -> String:
    changed: dict[str, Any] = {}
    size, make, note = (
        typed.get(f"{name}-{one.string}", "").strip() for name in ("diameter", "make", "note")
    )
    if size:
        mm = round(parse_length(size, own_unit, THINNEST_MM, THICKEST_MM).mm, 4)
        if abs(mm - one.diameter_mm) > 1e-3:
            changed["diameter_mm"] = mm
    if make and make != one.make:
        if make not in makes():
            raise CorrectInputError(f'string {one.string}: "{make}"', f"one of {', '.join(makes())}", "")
        changed["make"] = make
        changed["wrap"] = None
    if changed:
        # What was measured of the old string does not hold for another one.
        changed |= dict.fromkeys((*COMPUTED, "core_mm"))
    if note and note != one.note:
        semitones_from_a4(note)
        changed["note"] = note
    return one.model_copy(update=changed) if changed else one
