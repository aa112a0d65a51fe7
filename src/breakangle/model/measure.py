"""A length as people type it: unit marks, decimal commas, fractions; ambiguity is refused, never guessed."""

from dataclasses import dataclass
from math import ceil, floor

from breakangle.model.errors import CorrectInputError
from breakangle.model.typed_number import LONGEST_TEXT, Written, written
from breakangle.model.words.speech import mark, tr

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
# To a thousandth of an inch, lengths below the first look alike, and below the second like nothing.
SMALL_MM, UNSEEN_MM = 0.1, 0.0005 * INCH_MM
# Units that are words, as figures stand before them.
UNIT_NAMES = mark("cents"), mark("mm per turn"), mark("mm per mm"), mark("turns")
USUAL = mark('write it like 1.5, 1,5, 1.5 mm, 0.059 in, .010", 10 thou or 3/64')


@dataclass(frozen=True)
class Length:
    """A typed length: `mm`, and `unit`, the unit it was understood in."""

    mm: float
    unit: str


def _meanings(found: Written, own_unit: str) -> list[Length]:
    """Return what was meant, one entry per possible meaning."""
    # A bare fraction is an inch ruler's everywhere; a bare decimal is in the person's own unit.
    unit = found.unit or ("in" if found.fraction else own_unit)
    return [Length(float(number) * _UNIT_MM[unit], unit) for number in found.numbers]


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
    typed, found = text.strip(), written(text)
    if found is None or (found.unit and found.unit not in _UNIT_MM):
        raise CorrectInputError(tr("{typed!r} is not a length", typed=typed[:LONGEST_TEXT]), tr(USUAL))
    sensible = [meaning for meaning in _meanings(found, own_unit) if low_mm <= meaning.mm <= high_mm]
    if len(sensible) == 1:
        return sensible[0]
    if len(sensible) > 1:
        could_be = tr(" or ").join(f"{one.mm / _UNIT_MM[one.unit]:g} {one.unit}" for one in sensible)
        raise CorrectInputError(
            tr("{typed!r} could be {could_be}", typed=typed, could_be=could_be),
            "",
            tr("type it without the comma, or with ."),
        )
    numbers = [] if found.unit else [float(number) for number in found.numbers]
    raise _out_of_range(typed, numbers, own_unit, (low_mm, high_mm))


def parse_number(text: str, units: tuple[str, ...] = ()) -> tuple[float, str]:
    """Return a number that is no length, written as lengths are (`1/4`, `1 1/2`, `0,25`, `-3`), and its unit's word.

    Args:
        text: what was typed.
        units: the words that may stand behind the number; the one that does is returned, else nothing.

    Raises:
        CorrectInputError: no number, another word behind it, or a comma that could be two things.
    """
    typed, found = text.strip(), written(text)
    if found is None or (found.unit and found.unit not in units):
        raise CorrectInputError(
            tr("{typed!r} is not a number", typed=typed[:LONGEST_TEXT]),
            tr("write it like 0.25, 0,25, 1/4 or 1 1/2"),
        )
    if len(found.numbers) > 1:
        could_be = tr(" or ").join(f"{float(one):g}" for one in found.numbers)
        raise CorrectInputError(
            tr("{typed!r} could be {could_be}", typed=typed, could_be=could_be),
            "",
            tr("type it without the comma, or with ."),
        )
    return float(found.numbers[0]), found.unit


def says_unit(text: str) -> bool:
    """Return whether a length as it was typed names its unit; a fraction is an inch ruler's."""
    found = written(text)
    return found is not None and bool(found.unit or found.fraction)


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
    hint = tr("if you meant {fits}, type the unit as well", fits=tr(" or ").join(fits)) if fits else ""
    return CorrectInputError(
        tr("{typed!r} is out of range", typed=typed),
        tr("it can be {range_words}", range_words=range_words(low_mm, high_mm, own_unit)),
        hint,
    )


def range_words(low_mm: float, high_mm: float, own_unit: str = "mm") -> str:
    """Return what a length can be, in the person's own unit: `from 0.5 to 5 mm`, `from 0.020 to 0.196 in`."""
    if own_unit == "mm":
        return tr("from {low_mm:g} to {high_mm:g} mm", low_mm=low_mm, high_mm=high_mm)
    # Rounded inward, so that what is named may be given.
    low, high = ceil(low_mm / INCH_MM * 1e3) / 1e3, floor(high_mm / INCH_MM * 1e3) / 1e3
    return tr("from {low:.3f} to {high:.3f} in", low=low, high=high)


def inch_decimals(*lengths_mm: float, spread_mm: float = 0.0) -> int:
    """Return how many decimals inches need beside each other: three, or four so that small ones still tell something.

    Args:
        lengths_mm: what is written in one place, in mm; exactly nothing reads the same either way.
        spread_mm: the ± that stands behind them, in mm.
    """
    small = any(0.0 < abs(one) < SMALL_MM for one in lengths_mm)
    return 4 if small or 0.0 < spread_mm < UNSEEN_MM else 3


def sixty_fourths(mm: float) -> str:
    """Return a height in 64ths of an inch, not made shorter, as the trade says action: `4/64`; halves too: `3.5/64`."""
    return f"{round(mm / INCH_MM * 128) / 2:g}/64"
