"""One typed figure whose unit is doubted: what is asked, with the two forms to type."""

from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

from breakangle.model.errors import CorrectInputError
from breakangle.model.measure import INCH_MM, parse_length, says_unit
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.units_doubted import Doubted, doubted_figures
from breakangle.planning.estimate.units_doubted.judge import ASK_FROM
from breakangle.planning.estimate.units_doubted.likelihood import UNIT_MM, Expectation, likelihood
from breakangle.planning.kinds.prior import prior_of
from breakangle.planning.kinds.registry import reading_kinds
from breakangle.planning.state.board import board_of
from breakangle.planning.state.layout import Belief

# How each unit is typed behind a number, and how many of it are typed for one of the number.
FORMS = {"mm": "{number:g}mm", "in": "{number:g}in", "thou": "{number:g}thou", "64ths": "{number:g}/64"}
UNIT_WORDS = {"mm": "mm", "in": "in", "thou": "thou", "64ths": "64ths"}


def doubt_of(
    body: Mapping[str, Any], service: Service, own_unit: str = "mm", prior: Belief | None = None
) -> Doubted | None:
    """Return why the unit of a reading, about to be stored after the work so far, is doubted; None where it is not.

    Args:
        body: the reading as a service file has it, in mm as it was understood.
        service: what else was read; figures whose unit is open already count for nothing.
        own_unit: the unit that its bare number was taken in.
        prior: what is believed of the instrument before anything is read; else its family's.
    """
    kind = reading_kinds().get(str(body.get("quantity")))
    if kind is None or "mm" not in body:
        return None
    try:
        reading: Reading = kind.model.model_validate(dict(body) | {"after": len(service.work)})
    except ValidationError:
        return None
    if list(reading.misfits(service.instrument)):
        return None
    with_it = service.model_copy(update={"readings": (*service.readings, reading)})
    believed = prior_of(board_of(service.instrument, service.reference_hz)) if prior is None else prior
    path = f"readings[{len(service.readings)}]"
    found = doubted_figures(with_it, believed, own_unit)
    return next((one for one in found if one.figure.path == path), None)


def refuse_doubted(body: Mapping[str, Any], service: Service, own_unit: str = "mm") -> None:
    """Refuse a reading whose bare number was likely meant in another unit.

    Raises:
        CorrectInputError: with both forms to type.
    """
    doubt = doubt_of(body, service, own_unit)
    if doubt is None:
        return
    number = doubt.figure.number / (1.0 if own_unit == "mm" else INCH_MM)
    number = round(number, 4)
    meant, stands = typed_in(number, doubt.unit), typed_in(number, own_unit)
    said = tr(
        "did you mean {number:g} {unit_words} ({meant_mm:.2f} mm) or {number:g} {own_unit}",
        number=number,
        unit_words=UNIT_WORDS[doubt.unit],
        meant_mm=doubt.meant_mm,
        own_unit=own_unit,
    )
    forms = tr("{meant} or {stands}", meant=meant, stands=stands)
    if doubt.slip_mm is not None:
        said += tr(
            ", or {number:g} {own_unit}, a slip of the decimal point", number=number / 10.0, own_unit=own_unit
        )
        forms += tr(" or {typed_in}", typed_in=typed_in(round(number / 10.0, 5), own_unit))
    raise CorrectInputError(
        tr("{figure_words}: {said}? Type {forms}", figure_words=doubt.figure.words, said=said, forms=forms)
    )


class UnitAskedError(CorrectInputError):
    """A bare length that was likely meant in the other unit: its sentence says what it is of, and asks."""


def refuse_doubted_size(
    text: str,
    what: str,
    expected: Expectation,
    own_unit: str = "mm",
    low_mm: float = 0.0,
    high_mm: float = 150.0,
) -> float:
    """Return a length in mm from what was typed, unless it was typed bare and likely meant in the other unit.

    Args:
        text: what was typed.
        what: what it is a length of, for the sentence.
        expected: what it usually is.
        own_unit: the unit that a bare number is taken in.
        low_mm: the least sensible value.
        high_mm: the greatest sensible value.

    Raises:
        CorrectInputError: no such length.
        UnitAskedError: one that is asked about, with both forms to type; it says what it is of.
    """
    mm = round(parse_length(text, own_unit, low_mm, high_mm).mm, 4)
    if says_unit(text) or mm <= 0.0:
        return mm
    number = round(mm / (1.0 if own_unit == "mm" else INCH_MM), 4)
    other = "in" if own_unit == "mm" else "mm"
    stands, meant = likelihood(number, own_unit, expected), likelihood(number, other, expected)
    meant_mm = number * UNIT_MM[other]
    if low_mm <= meant_mm <= high_mm and meant >= ASK_FROM * stands:
        said = tr(
            "did you mean {number:g} {other} ({meant_mm:.2f} mm) or {number:g} {own_unit}?",
            number=number,
            other=other,
            meant_mm=meant_mm,
            own_unit=own_unit,
        )
        forms = tr(
            "Type {typed_in} or {typed_in_2}",
            typed_in=typed_in(number, other),
            typed_in_2=typed_in(number, own_unit),
        )
        raise UnitAskedError(f"{what}: {said} {forms}")
    return mm


def typed_in(number: float, unit: str) -> str:
    """Return a number as it is typed in a unit: `0.059in`, `4/64`."""
    return FORMS[unit].format(number=number)
