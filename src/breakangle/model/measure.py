"""A length as people type it: unit marks, decimal commas, fractions; ambiguity is refused, never guessed."""

import re
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from breakangle.model.errors import CorrectInputError

INCH_MM = 25.4
# Source: National Institute of Standards and Technology (2008), SP 811, Guide for the Use of the SI, appendix B.8:
# pound-force. [memory]
POUND_FORCE_N = 4.448222
_UNIT_MM = {
    "mm": 1.0,
    "cm": 10.0,
    "µm": 0.001,
    "μm": 0.001,
    "um": 0.001,
    "in": INCH_MM,
    "inch": INCH_MM,
    "inches": INCH_MM,
    '"': INCH_MM,
    "″": INCH_MM,
    "”": INCH_MM,
    "''": INCH_MM,
    "thou": INCH_MM / 1000,
    "mil": INCH_MM / 1000,
    "mils": INCH_MM / 1000,
}
_SHAPE = re.compile(
    r"^(?P<sign>[+\-−]?)\s*(?P<number>(?:\d+\s+)?\d+(?:[.,]5)?\s*[/⁄]\s*\d+|\d*[.,]?\d+|\d+[.,]|\d[\d.,]*[\d.,])"
    r"\s*(?P<unit>[a-zµμ\"″”']*)\.?$",
    re.IGNORECASE,
)
# How each unit is shown: the finest step and its decimals.
_SHOWN = {"mm": (0.01, 2), "cm": (0.001, 3), "µm": (1.0, 0), "in": (0.0005, 4), "thou": (0.5, 1)}
# To a thousandth of an inch, lengths below the first look alike, and below the second like nothing.
SMALL_MM, UNSEEN_MM = 0.1, 0.0005 * INCH_MM
LONGEST_TEXT = 60
USUAL = 'write it like 1.5, 1,5, 1.5 mm, 0.059 in, .010", 10 thou or 3/64'


@dataclass(frozen=True)
class Length:
    """A typed length: `mm`, and `unit`, the unit it was understood in."""

    mm: float
    unit: str


def _numbers(text: str) -> list[float]:
    """Return every number that `text` can be: one, or two where a mark may be decimal or group thousands."""
    if "/" in text or "⁄" in text:
        *whole, part = re.sub(r"\s*[/⁄]\s*", "/", text).split()
        above, below = part.replace(",", ".").split("/")  # between two marks of a rule: 3.5/64
        if int(below) == 0:
            return []
        return [float(Fraction(above) / int(below)) + (float(whole[0]) if whole else 0.0)]
    marks = [sign for sign in text if sign in ".,"]
    if len(marks) > 1:
        same = len(set(marks)) == 1
        groups = re.split(r"[.,]", text)
        if same and all(len(group) == 3 for group in groups[1:]) and 1 <= len(groups[0]) <= 3:
            return [float("".join(groups))]
        if not same and marks.count(marks[-1]) == 1 and all(len(group) == 3 for group in groups[1:-1]):
            return [float("".join(groups[:-1]) + "." + groups[-1])]
        return []
    as_decimal = float(text.replace(",", "."))
    grouped = re.fullmatch(r"([1-9]\d{0,2}),(\d{3})", text)
    return [as_decimal, float(grouped[1] + grouped[2])] if grouped else [as_decimal]


def _meanings(number_text: str, unit: str, own_unit: str) -> list[Length]:
    """Return what was meant, one entry per possible meaning."""
    if unit:
        return [Length(number * _UNIT_MM[unit], unit) for number in _numbers(number_text)]
    # A bare fraction is an inch ruler's everywhere; a bare decimal is in the person's own unit.
    fraction = "/" in number_text or "⁄" in number_text
    unit = "in" if fraction else own_unit
    return [Length(number * _UNIT_MM[unit], unit) for number in _numbers(number_text)]


def parse_length(text: str, own_unit: str = "mm", low_mm: float = -1e4, high_mm: float = 1e4) -> Length:
    """Return the length typed as `text`, in mm, with the unit it was understood in.

    Args:
        text: what was typed.
        own_unit: the unit of a bare number, `mm` or `in` (a bare fraction is always of an inch).
        low_mm: the least sensible value, in mm.
        high_mm: the greatest sensible value, in mm. The range settles what a number alone leaves open.

    Raises:
        CorrectInputError: not a length, out of range in every unit, or ambiguous (with what it could be).
    """
    typed = text.strip()
    found = _SHAPE.match(typed) if len(typed) <= LONGEST_TEXT else None
    unit = found["unit"].lower() if found else ""
    if found is None or (unit and unit not in _UNIT_MM):
        raise CorrectInputError(f"{typed[:LONGEST_TEXT]!r} is not a length", USUAL)
    sign = -1.0 if found["sign"] in ("-", "−") else 1.0
    meant = [Length(sign * one.mm, one.unit) for one in _meanings(found["number"], unit, own_unit)]
    if not meant:
        raise CorrectInputError(f"{typed!r} is not a length", USUAL)
    sensible = [one for one in meant if low_mm <= one.mm <= high_mm]
    if len(sensible) == 1:
        return sensible[0]
    if len(sensible) > 1:
        could_be = " or ".join(f"{one.mm / _UNIT_MM[one.unit]:g} {one.unit}" for one in sensible)
        raise CorrectInputError(f"{typed!r} could be {could_be}", "", "type it without the comma, or with .")
    numbers = [] if unit else [sign * one for one in _numbers(found["number"])]
    raise _out_of_range(typed, numbers, own_unit, (low_mm, high_mm))


def parse_number(text: str, units: tuple[str, ...] = ()) -> tuple[float, str]:
    """Return a number that is no length, written as lengths are (`1/4`, `1 1/2`, `0,25`, `-3`), and its unit's word.

    Args:
        text: what was typed.
        units: the words that may stand behind the number; the one that does is returned, else nothing.

    Raises:
        CorrectInputError: no number, another word behind it, or a comma that could be two things.
    """
    typed = text.strip()
    found = _SHAPE.match(typed) if len(typed) <= LONGEST_TEXT else None
    unit = found["unit"].lower() if found else ""
    numbers = _numbers(found["number"]) if found else []
    if found is None or not numbers or (unit and unit not in units):
        raise CorrectInputError(
            f"{typed[:LONGEST_TEXT]!r} is not a number", "write it like 0.25, 0,25, 1/4 or 1 1/2"
        )
    if len(numbers) > 1:
        could_be = " or ".join(f"{one:g}" for one in numbers)
        raise CorrectInputError(f"{typed!r} could be {could_be}", "", "type it without the comma, or with .")
    return (-numbers[0] if found["sign"] in ("-", "−") else numbers[0]), unit


def says_unit(text: str) -> bool:
    """Return whether a length as it was typed names its unit; a fraction is an inch ruler's."""
    found = _SHAPE.match(text.strip()) if len(text) <= LONGEST_TEXT else None
    return found is not None and bool(found["unit"] or "/" in found["number"] or "⁄" in found["number"])


def _out_of_range(
    typed: str, numbers: list[float], own_unit: str, range_mm: tuple[float, float]
) -> CorrectInputError:
    """Return the error, naming the units in which a bare number would have been sensible."""
    low_mm, high_mm = range_mm
    fits = [
        f"{number:g} {unit}"
        for number in numbers
        for unit in ("mm", "in", "thou")
        if unit != own_unit and low_mm <= number * _UNIT_MM[unit] <= high_mm
    ]
    hint = f"if you meant {' or '.join(fits)}, type the unit as well" if fits else ""
    return CorrectInputError(
        f"{typed!r} is out of range", f"it can be {range_words(low_mm, high_mm, own_unit)}", hint
    )


def format_length(mm: float, unit: str = "mm") -> str:
    """Return a length with its unit, so that `parse_length` reads it back: mm to 0.01, inches to half a thou.

    Args:
        mm: the length in mm.
        unit: `mm`, `cm`, `µm`, `in` or `thou`.
    """
    step, decimals = _SHOWN[unit]
    number = round(mm / _UNIT_MM[unit] / step) * step
    text = f"{number:.{decimals}f}"
    return f"{text.removeprefix('-') if float(text) == 0.0 else text} {unit}"


def range_words(low_mm: float, high_mm: float, own_unit: str = "mm") -> str:
    """Return what a length can be, in the person's own unit: `from 0.5 to 5 mm`, `from 0.020 to 0.196 in`."""
    if own_unit == "mm":
        return f"from {low_mm:g} to {high_mm:g} mm"
    # Rounded inward, so that what is named may be given.
    low, high = ceil(low_mm / INCH_MM * 1e3) / 1e3, floor(high_mm / INCH_MM * 1e3) / 1e3
    return f"from {low:.3f} to {high:.3f} in"


def inch_decimals(*lengths_mm: float, spread_mm: float = 0.0) -> int:
    """Return how many decimals inches need beside each other: three, or four so that small ones still tell something.

    Args:
        lengths_mm: what is written in one place, in mm; exactly nothing reads the same either way.
        spread_mm: the ± that stands behind them, in mm.
    """
    small = any(0.0 < abs(one) < SMALL_MM for one in lengths_mm)
    return 4 if small or 0.0 < spread_mm < UNSEEN_MM else 3


def format_fraction(mm: float, parts: int = 64) -> str:
    """Return a length as a ruler of `parts` to the inch shows it: `3/64 in`, `1 1/2 in`."""
    nearest = Fraction(round(abs(mm) / INCH_MM * parts), parts)
    whole, rest = divmod(nearest.numerator, nearest.denominator)
    shown = [str(whole)] if whole or not rest else []
    shown += [f"{rest}/{nearest.denominator}"] if rest else []
    return f"{'-' if mm < 0 and nearest else ''}{' '.join(shown)} in"


def sixty_fourths(mm: float) -> str:
    """Return a height in 64ths of an inch, not made shorter, as the trade says action: `4/64`; halves too: `3.5/64`."""
    return f"{round(mm / INCH_MM * 128) / 2:g}/64"
