"""Strings as a person types them beside those that are on: sizes, makes and notes, only what differs."""

from collections.abc import Mapping, Sequence
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument, String
from breakangle.model.pitch import semitones_from_a4
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.reference.strings import makes
from breakangle.services.strings.sizes import typed_set
from breakangle.services.typed_values.sizes import gauge_typed
from breakangle.services.visits.entries import ADJUSTMENT, put_entry
from breakangle.storage.records.records import Entry, Visit
from breakangle.storage.records.store import Writing
from breakangle.storage.records.strung import NEW_STRINGS
from breakangle.storage.schema.stamp import Stamp

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


def set_typed(service: Service, sizes: Sequence[str], own_unit: str = "mm") -> tuple[String, ...]:
    """Return a set from sizes as people type them, string 1 first, each near the string it replaces: `.010 11 .017`.

    Raises:
        CorrectInputError: another number of sizes than of strings, or one that cannot be right or could be two.
    """
    old = service.instrument_now().in_order()
    if len(sizes) != len(old):
        return typed_set(service, sizes, own_unit)  # says what is wrong
    read = [f"{_size_mm(one, text, own_unit)} mm" for one, text in zip(old, sizes, strict=True)]
    return typed_set(service, read, own_unit)


def put_on(
    connection: Writing, visit: Visit, strings: tuple[String, ...], stamp: Stamp, key: str | None = None
) -> Entry:
    """Store within a transaction that these strings went on, and return the entry; a claimed `key` is answered.

    Raises:
        CorrectInputError: no strings.
        ServiceFileError: strings that this instrument does not have.
    """
    if not strings:
        raise CorrectInputError(
            tr("no string is changed"), "", tr("change a size, or choose a whole new set")
        )
    clean = [one.model_dump(mode="json", exclude_none=True, exclude_unset=True) for one in strings]
    return put_entry(
        connection, visit.id, ADJUSTMENT, {"adjust": NEW_STRINGS, "strings": clean}, stamp, key=key
    )


def _typed(one: String, typed: Mapping[str, str], own_unit: str) -> String:
    changed: dict[str, Any] = {}
    size, make, note = (
        typed.get(f"{name}-{one.string}", "").strip() for name in ("diameter", "make", "note")
    )
    if size:
        mm = _size_mm(one, size, own_unit)
        if abs(mm - one.diameter_mm) > 1e-3:
            changed["diameter_mm"] = mm
    if make and make != one.make:
        if make not in makes():
            raise CorrectInputError(
                tr('string {string}: "{make}"', string=one.string, make=make),
                tr("one of {makes}", makes=", ".join(makes())),
                "",
            )
        changed["make"] = make
        changed["wrap"] = None
    if changed:
        # What was measured of the old string does not hold for another one.
        changed |= dict.fromkeys((*COMPUTED, "core_mm"))
    if note and note != one.note:
        semitones_from_a4(note)
        changed["note"] = note
    return one.model_copy(update=changed) if changed else one


def _size_mm(one: String, size: str, own_unit: str) -> float:
    try:
        return round(gauge_typed(size, own_unit, one.diameter_mm).mm, 4)
    except CorrectInputError as cause:
        given = tr("string {string}: {given}", string=one.string, given=cause.given)
        raise CorrectInputError(given, cause.possible, cause.remedy) from cause
