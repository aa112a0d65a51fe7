"""A figure kept as typed whose unit is doubted: marked so, shown with what it could be, and answered by one choice."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.measure import INCH_MM, parse_length, says_unit
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.model.words.unit_said import (
    COULD_BE,
    SLIP,
    TYPED,
    UNANSWERED,
    UNIT,
    answered,
    as_typed,
    unit_open,
)
from breakangle.planning.estimate.units_doubted import Doubted
from breakangle.planning.estimate.units_doubted.likelihood import UNIT_MM
from breakangle.planning.state.layout import Belief
from breakangle.services.typed_values.doubtful_units import doubt_of
from breakangle.services.visits.entries import put_instead, standing_held
from breakangle.services.visits.parsed_sheets import READING
from breakangle.services.visits.reasons import UNIT_ANSWERED
from breakangle.storage.records.records import Entry, Visit
from breakangle.storage.records.store import Shop, Writing
from breakangle.storage.schema.errors import EditedMeanwhileError
from breakangle.storage.schema.stamp import Stamp


@dataclass(frozen=True)
class Choice:
    """One thing that a figure could be: `number` as it was typed, in `unit`, which makes `mm`.

    `slip_mm` is what it would be in mm were its decimal point one place off; None where that is not likely.
    """

    unit: str
    number: str
    mm: float
    slip_mm: float | None = None


def with_marks(
    body: dict[str, Any], text: str, service: Service, own_unit: str, prior: Belief | None = None
) -> dict[str, Any]:
    """Return a reading's data with the unit that was typed, or marked as open where a bare number is doubted.

    Args:
        body: the reading as it was understood, in mm.
        text: what was typed.
        service: what else was read, without what stood at this place.
        own_unit: the unit that a bare number was taken in.
        prior: what is believed of the instrument before anything is read.
    """
    if "mm" not in body:
        return body
    if says_unit(text):
        return body | {UNIT: parse_length(text, own_unit).unit}
    doubt = doubt_of(body, service, own_unit, prior)
    if doubt is None:
        return body
    return body | {UNANSWERED: True, TYPED: text.strip(), COULD_BE: [own_unit, doubt.unit]} | _slip(doubt)


def marked(body: dict[str, Any], service: Service) -> dict[str, Any]:
    """Return a reading's data from a program, in mm, marked as open where its unit is doubted."""
    doubt = None if UNIT in body or UNANSWERED in body else doubt_of(body, service)
    return body if doubt is None else body | marks_of(doubt)


def marks_of(doubt: Doubted) -> dict[str, Any]:
    """Return the marks of a figure of a file, which stands there as mm."""
    return {UNANSWERED: True, TYPED: f"{doubt.figure.number:g}", COULD_BE: ["mm", doubt.unit]} | _slip(doubt)


def _slip(doubt: Doubted) -> dict[str, Any]:
    return {} if doubt.slip_mm is None else {SLIP: round(doubt.slip_mm, 4)}


def choices_of(reading: Reading | None) -> tuple[Choice, ...]:
    """Return what an unanswered figure could be, as it was taken first; empty where nothing is open."""
    if reading is None or not unit_open(reading):
        return ()
    extra = reading.model_extra or {}
    units = [one for one in extra.get(COULD_BE, ()) if one in UNIT_MM] or ["mm", "in"]
    text = as_typed(reading) or f"{reading.mm:g}"  # type: ignore[attr-defined]
    try:
        number = parse_length(text, "mm").mm
    except CorrectInputError:
        number = float(reading.mm) / (INCH_MM if units[0] == "in" else 1.0)  # type: ignore[attr-defined]
    slip = extra.get(SLIP)
    slip_mm = float(slip) if isinstance(slip, int | float) else None
    return tuple(Choice(unit, text, round(number * UNIT_MM[unit], 4), slip_mm) for unit in units)


def answer_unit(shop: Shop, visit: Visit, entry_id: str, unit: str, stamp: Stamp) -> Entry:
    """Store which unit an open figure is in, and return the entry that stands now; answered twice, it is stored once.

    Raises:
        CorrectInputError: a unit that was not asked about.
        EditedMeanwhileError: something else stands there by now.
    """
    with shop.writing() as connection:
        stood = standing_held(connection, visit.id)
        after = next((one for one in stood if one.supersedes == entry_id), None)
        there = next((one for one in stood if one.id == entry_id), None)
        if there is None:
            if after is not None and json.loads(after.body or "{}").get(UNIT) == unit:
                return after
            raise EditedMeanwhileError(tr("this reading"), after or _last(stood), {"unit": unit}, stamp.who)
        entry = _answered(connection, there, unit, stamp)
        if entry is None:
            raise CorrectInputError(
                tr('"{unit}" was not asked about', unit=unit[:20]), "", tr("look at the page as it is now")
            )
        return entry


def answer_every(shop: Shop, visit: Visit, unit: str, stamp: Stamp) -> tuple[Entry, ...]:
    """Store that every open figure of a visit that may be in `unit` is, and return the entries that stand now."""
    with shop.writing() as connection:
        stood = [one for one in standing_held(connection, visit.id) if one.kind == READING]
        made = [_answered(connection, entry, unit, stamp) for entry in stood]
    return tuple(one for one in made if one is not None)


def open_units(readings: Iterable[Reading | None]) -> dict[str, int]:
    """Return how many of these figures are open, by each unit that they could be in; empty where none is."""
    found: dict[str, int] = {}
    for reading in readings:
        for choice in choices_of(reading):
            found[choice.unit] = found.get(choice.unit, 0) + 1
    return found


def _answered(connection: Writing, there: Entry, unit: str, stamp: Stamp) -> Entry | None:
    """Return the entry with its unit told; None where that was not asked about it."""
    body = json.loads(there.body or "{}")
    choice = next((one for one in choices_of(_reading(body)) if one.unit == unit), None)
    if choice is None:
        return None
    kept = {key: value for key, value in body.items() if key not in (COULD_BE, SLIP)}
    return put_instead(connection, there, answered(kept, choice.mm, unit), UNIT_ANSWERED, stamp)


def _reading(body: dict[str, Any]) -> Reading:
    from breakangle.planning.kinds.registry import reading_kinds

    return reading_kinds()[body["quantity"]].model.model_validate(body)


def _last(stood: Sequence[Entry]) -> Entry:
    if not stood:
        raise CorrectInputError(tr("nothing stands here any more"), "", tr("look at the page as it is now"))
    return stood[-1]
