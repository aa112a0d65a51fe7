"""Numbers as a drawing writes them: mm to 0.01, inches to 0.001 (small ones to 0.0001), cents to 0.1, turns to 1/8."""

import math

from breakangle.model.measure import INCH_MM, inch_decimals
from breakangle.model.words.speech import tr
from breakangle.planning.kinds.adjustments.saddle_height import turns_words

MINUS = "−"
EXACT = 1e-6  # of a sixteenth; chosen: rounding


def plain(number: float, decimals: int) -> str:
    """Return a number with a true minus sign, and no minus before a zero."""
    text = f"{number:.{decimals}f}"
    negative = text.startswith("-") and float(text) != 0.0
    return (MINUS if negative else "") + text.lstrip("-")


def length_number(mm: float, units: str) -> str:
    """Return a length in the person's unit, without the unit's name."""
    return plain(mm / INCH_MM, inch_decimals(mm)) if units == "inch" else plain(mm, 2)


def length_span(mm: float, wide_mm: float, units: str) -> str:
    """Return a length and the ± behind it in the person's unit, both as finely, without the unit's name."""
    per, decimals = (INCH_MM, inch_decimals(mm, spread_mm=wide_mm)) if units == "inch" else (1.0, 2)
    return f"{plain(mm / per, decimals)} ± {plain(wide_mm / per, decimals)}"


def unit_word(units: str) -> str:
    """Return the short name of the person's unit of length."""
    return "in" if units == "inch" else "mm"


def length_text(mm: float, units: str, spread_mm: float | None = None) -> str:
    """Return a length with its unit, and with twice its standard uncertainty where that is given."""
    number = length_number(mm, units) if spread_mm is None else doubted(mm, spread_mm, units)
    return f"{number} {unit_word(units)}"


def doubted(mm: float, spread_mm: float, units: str) -> str:
    """Return a length with twice its standard uncertainty, never less than 0.01 mm, without the unit's name."""
    return length_span(mm, max(2.0 * spread_mm, 0.01), units)


def cents_number(cents: float, decimals: int = 1) -> str:
    """Return cents with their sign, to 0.1 or to as many decimals."""
    text = plain(cents, decimals)
    return text if text.startswith(MINUS) or float(text) == 0.0 else f"+{text}"


def turns_number(turns: float) -> str:
    """Return turns to the nearest eighth: `3/8 turn`, `1 1/4 turns`; less than half an eighth is a touch.

    A rod is set to sixteenths: `1/16 turn`, `3/16 turn`.
    """
    sixteenths = abs(turns) * 16.0
    if abs(sixteenths - round(sixteenths)) < EXACT and round(sixteenths) % 2:
        whole, part = divmod(round(sixteenths), 16)
        if whole:
            return tr("{whole} {sixteenths}/16 turns", whole=whole, sixteenths=part)
        return tr("{sixteenths}/16 turn", sixteenths=part)
    eighths = math.floor(abs(turns) * 8.0 + 0.5)
    if eighths == 0:
        return tr("less than 1/16 turn")
    return turns_words(eighths / 8.0, "").strip()


def ordered(numbers: list[int]) -> str:
    """Return whole numbers in words: `1`, `1 and 2`, `1, 2 and 3`, `1 to 4`."""
    if len(numbers) > 2 and numbers == list(range(numbers[0], numbers[-1] + 1)):
        return tr("{numbers} to {numbers_2}", numbers=numbers[0], numbers_2=numbers[-1])
    *most, last = [str(number) for number in numbers]
    return tr("{most} and {last}", most=", ".join(most), last=last) if most else last
