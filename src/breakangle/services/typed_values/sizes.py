"""Sizes as they are typed whose unit, or number, may be two: a string's diameter, a scale of two lengths."""

import re
from collections.abc import Sequence

from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument, String
from breakangle.model.measure import INCH_MM, Length, parse_length
from breakangle.model.words.speech import tr

GAUGE_MM = (0.1, 6.0)  # thinner or thicker is no string's; common practice, no source
# The thinnest string made is about 0.15 mm (.006 in), so that a bare .105 or .130 is a bass string in inches.
# Common practice, no source.
STRING_MM = (0.15, 6.0)
# Strings that go in one place differ by no more; an inch taken for a millimetre is 25 times off. Common practice.
NEAR_RATIO = 4.0
UNIT_MM = {"mm": 1.0, "in": INCH_MM, "thou": INCH_MM / 1000}  # exact
SAME_MM = 1e-4  # finer than any caliper reads; common practice, no source

_BARE = re.compile(r"\s*[\d.,]*\d[.,]?\s*")
_BETWEEN = re.compile(r"\s*(?:[–—-]|(?<![a-z])to(?![a-z]))\s*", re.IGNORECASE)
_UNIT = re.compile(r"[a-zµμ\"″”']+\.?$", re.IGNORECASE)


def gauge_typed(text: str, own_unit: str = "mm", near_mm: float | None = None) -> Length:
    """Return a string's diameter from how the trade writes it, with the unit it was taken in: .010, 10, 0.25.

    Args:
        text: what was typed; a bare fraction is of an inch.
        own_unit: mm or in: what a bare number is in first.
        near_mm: what is usual in that place, or is on it; a bare number is then taken in the unit that comes
            near it, the person's own before another, and refused if none does.

    Raises:
        CorrectInputError: no diameter that a string has, or one that could be two.
    """
    if not _BARE.fullmatch(text):
        return parse_length(text, own_unit, *GAUGE_MM)
    found = _meanings(text.strip(), own_unit)
    if not found:
        return parse_length(text, own_unit, *GAUGE_MM)  # says what is possible
    near = found
    if near_mm is not None:
        near = [one for one in found if 1.0 / NEAR_RATIO <= one.mm / near_mm <= NEAR_RATIO]
    if near and (near_mm is not None or len(found) == 1):
        return near[0]
    could_be = tr(" or ").join(_in_words(one) for one in found)
    far = "" if near_mm is None else tr(", far from the {near_mm:.3g} mm of that place", near_mm=near_mm)
    raise CorrectInputError(
        tr("{text!r} could be {could_be}{far}", text=text.strip(), could_be=could_be, far=far),
        "",
        tr("type the unit as well"),
    )


def gauge_mm(text: str, own_unit: str = "mm", near_mm: float | None = None) -> float:
    """Return a string's diameter in mm from how the trade writes it; as `gauge_typed`."""
    return gauge_typed(text, own_unit, near_mm).mm


def scales_mm(
    text: str, own_unit: str = "mm", low_mm: float = 200.0, high_mm: float = 1300.0
) -> tuple[float, ...]:
    """Return one length in mm, or two where two were typed, the lowest string's first: `27 - 25.5 in`.

    Where one of two says its unit, the other is in that too.

    Raises:
        CorrectInputError: no length, or one out of range.
    """
    parts = _BETWEEN.split(text.strip())
    if len(parts) != 2 or not all(parts):
        return (parse_length(text, own_unit, low_mm, high_mm).mm,)
    units = [found[0] if (found := _UNIT.search(part)) else "" for part in parts]
    said = [
        part if unit or not other else f"{part} {other}"
        for part, unit, other in zip(parts, units, reversed(units), strict=True)
    ]
    return tuple(parse_length(one, own_unit, low_mm, high_mm).mm for one in said)


def fanned(strings: Sequence[String], low_mm: float, high_mm: float) -> dict[int, float]:
    """Return every string's scale in mm by its number, in equal steps from the lowest string's to string 1's.

    Strings of one course have one scale.
    """
    courses = sorted({string.course or string.string for string in strings})
    steps = max(len(courses) - 1, 1)
    place = {course: index / steps for index, course in enumerate(courses)}
    return {
        string.string: round(high_mm + (low_mm - high_mm) * place[string.course or string.string], 4)
        for string in strings
    }


def scale_ends_mm(instrument: Instrument) -> tuple[float, float]:
    """Return the scales in mm of the lowest string and of string 1; alike unless the frets are fanned."""
    strings = instrument.in_order()
    high, low = (one.scale_mm or instrument.scale_mm for one in (strings[0], strings[-1]))
    return low, high


def _meanings(text: str, own_unit: str) -> list[Length]:
    """Return every diameter that a bare number can be, the one in the person's own unit first."""
    found: list[Length] = []
    for unit in sorted(UNIT_MM, key=lambda one: one != own_unit):
        try:
            one = Length(parse_length(f"{text} {unit}", own_unit, *GAUGE_MM).mm, unit)
        except CorrectInputError:
            continue
        if not any(abs(one.mm - other.mm) < SAME_MM for other in found):
            found.append(one)
    return found


def _in_words(one: Length) -> str:
    if one.unit == "mm":
        return f"{one.mm:g} mm"
    return f"{one.mm / UNIT_MM[one.unit]:g} {one.unit} ({one.mm:.3g} mm)"
