"""Strings as a person types them beside those that are on: sizes, makes and notes, only what differs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument, String
from breakangle.model.pitch import semitones_from_a4
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.model.words.unit_said import without_marks
from breakangle.reference.strings import makes
from breakangle.services.strings.sizes import typed_set
from breakangle.services.typed_values.sizes import gauge_typed
from breakangle.services.visits.entries import put_entry
from breakangle.services.visits.parsed_sheets import ADJUSTMENT
from breakangle.storage.records.records import Entry, Visit
from breakangle.storage.records.store import Writing
from breakangle.storage.records.strung import NEW_STRINGS
from breakangle.storage.schema.stamp import Stamp

COMPUTED = ("unit_mass_g_per_m", "axial_stiffness_n", "bending_stiffness_n_mm2")


@dataclass(frozen=True)
class StringTyped:
    """What was typed of one string; an empty text leaves what is there.

    Attributes:
        diameter: as the trade writes it.
        make: a key of the makes.
        note: with its octave.
        shelf_record: the record on the shelf that it is from.
        weight: of a piece, in grams.
        piece_length: of that piece.
        printed_mass: unit mass as the maker prints it, in g/m.
        pull: the wished one, in N.
    """

    diameter: str = ""
    make: str = ""
    note: str = ""
    shelf_record: str = ""
    weight: str = ""
    piece_length: str = ""
    printed_mass: str = ""
    pull: str = ""


NOTHING_TYPED = StringTyped()


@dataclass(frozen=True)
class StringsTyped:
    """What was typed of a set of strings.

    Attributes:
        boxes: by string number.
        whole_set: strings that are typed as they are count as fresh ones of the same kind; else they stay on.
        pack_record: a pack on the shelf that goes on as it is.
        set_record: a set on the shelf whose strings are not known there.
        find_sizes: sizes for the wished pulls are looked for.
        total_pull: wished of all together, in N.
        only_shelf: only sizes that lie on the shelf.
    """

    boxes: Mapping[int, StringTyped] = field(default_factory=dict)
    whole_set: bool = False
    pack_record: str = ""
    set_record: str = ""
    find_sizes: bool = False
    total_pull: str = ""
    only_shelf: bool = False

    def of(self, string: int) -> StringTyped:
        """Return what was typed of one string."""
        return self.boxes.get(string, NOTHING_TYPED)


def typed_strings(instrument: Instrument, typed: StringsTyped, own_unit: str = "mm") -> tuple[String, ...]:
    """Return the strings that were typed.

    Args:
        instrument: as it is strung now.
        typed: the boxes; an empty or missing one leaves what is there.
        own_unit: mm or in: what a bare number is in.

    Raises:
        CorrectInputError: a size, make or note that cannot be right; the string is named.
    """
    fresh_strings = []
    for string in instrument.in_order():
        fresh = _typed(string, typed.of(string.string), own_unit)
        if typed.whole_set or fresh != string:
            fresh_strings.append(fresh)
    return tuple(fresh_strings)


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
    clean = [string.model_dump(mode="json", exclude_none=True, exclude_unset=True) for string in strings]
    return put_entry(
        connection, visit.id, ADJUSTMENT, {"adjust": NEW_STRINGS, "strings": clean}, stamp, key=key
    )


def _typed(one: String, typed: StringTyped, own_unit: str) -> String:
    changed: dict[str, Any] = {}
    size, make, note = typed.diameter, typed.make, typed.note
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
    return without_marks(one).model_copy(update=changed) if changed else one


def _size_mm(one: String, size: str, own_unit: str) -> float:
    try:
        return round(gauge_typed(size, own_unit, one.diameter_mm).mm, 4)
    except CorrectInputError as cause:
        given = tr("string {string}: {given}", string=one.string, given=cause.given)
        raise CorrectInputError(given, cause.possible, cause.remedy) from cause
