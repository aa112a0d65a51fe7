"""Numbers as people type them, by one grammar at every entrance; what could be two numbers is never guessed.

Page, command line, paper's options, words of a file's hint and amounts of money all come through `written`:

- a sign `+`, `-` or `−`, digits of any script;
- a decimal point or comma: `1.5`, `1,5`, `.5`, `5.`;
- thousands grouped by comma, point, space or apostrophe: `1,250.00`, `1.250,00`, `1 250`, `1’250`;
- fractions: `3/64`, `1 1/2`, and between two marks of a rule `3.5/64`;
- a word of the unit behind it.

One mark before exactly three digits can be decimal or group thousands (`1,500`): a comma always, a point only where
such numbers have fewer than three digits after it, as money has. The range settles it, or the person is asked.
Powers (`1e3`), `nan`, `inf` and `1_000` are no numbers that people type.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr

LONGEST_TEXT = 60
MEASURED_DECIMALS = 3  # of numbers that are measured: a point is then never between thousands
_SHAPE = re.compile(
    r"(?P<sign>[+\-−]?)\s*"
    r"(?P<number>(?:\d+\s+)?\d+(?:[.,]5)?\s*[/⁄]\s*\d+"
    r"|\d{1,3}(?:[ \u00a0\u202f'\u2019]\d{3})+(?:[.,]\d*)?"
    r"|\d[\d.,]*|[.,]\d+)"
    r"\s*(?P<unit>[a-zµμ\"″”'%°]*)\.?",
    re.IGNORECASE,
)
_PARTING = re.compile(r"[ \u00a0\u202f'\u2019]")
_EITHER = re.compile(r"[1-9]\d{0,2}[.,]\d{3}", re.ASCII)
_GROUPED = re.compile(
    r"\d{1,3}(?:(?:,\d{3})+\.\d*|(?:\.\d{3})+,\d*|(?:,\d{3}){2,}|(?:\.\d{3}){2,})", re.ASCII
)
_PLAIN = re.compile(r"\d+(?:[.,]\d*)?|[.,]\d+", re.ASCII)


@dataclass(frozen=True)
class Written:
    """What a text says.

    Attributes:
        numbers: every number that it can be, its sign counted in: one, or two where a mark can be two things.
        unit: the word behind it in small letters; empty where there is none.
        fraction: whether it is written with a stroke, as an inch ruler's fractions are.
    """

    numbers: tuple[Decimal | Fraction, ...]
    unit: str
    fraction: bool


def written(text: str, decimals: int = MEASURED_DECIMALS) -> Written | None:
    """Return what `text` says as a number with the word of its unit; None where it says none.

    Args:
        text: what was typed.
        decimals: how many digits such numbers have after the point: with three or more, `1.250` is no thousand.
    """
    typed = text.strip()
    found = _SHAPE.fullmatch(typed) if len(typed) <= LONGEST_TEXT else None
    if found is None:
        return None
    fraction = "/" in found["number"] or "⁄" in found["number"]
    numbers = _fraction(found["number"]) if fraction else _decimals(found["number"], decimals)
    if not numbers:
        return None
    sign = -1 if found["sign"] in ("-", "−") else 1
    return Written(tuple(sign * number for number in numbers), found["unit"].lower(), fraction)


def _fraction(number: str) -> tuple[Fraction, ...]:
    *whole, part = re.sub(r"\s*[/⁄]\s*", "/", number).split()
    above, below = part.replace(",", ".").split("/")
    return () if int(below) == 0 else (Fraction(above) / int(below) + (int(whole[0]) if whole else 0),)


def _decimals(number: str, decimals: int) -> tuple[Decimal, ...]:
    """Return every number that digits with marks can be."""
    digits = re.sub(r"\d", lambda found: str(int(found[0])), _PARTING.sub("", number))
    if _EITHER.fullmatch(digits):
        as_decimal = Decimal(digits.replace(",", "."))
        may_group = "," in digits or decimals < MEASURED_DECIMALS
        return (as_decimal, as_decimal * 1000) if may_group else (as_decimal,)
    if _GROUPED.fullmatch(digits):
        last = max(digits.rfind(","), digits.rfind("."))
        decimal = len(set(re.findall(r"[.,]", digits))) == 2
        whole, part = (digits[:last], digits[last + 1 :]) if decimal else (digits, "")
        return (Decimal(re.sub(r"[.,]", "", whole) + "." + part),)
    return (Decimal(digits.replace(",", ".")),) if _PLAIN.fullmatch(digits) else ()


def number_typed(
    text: str, what: str, low: Decimal, high: Decimal, decimals: int = 0, units: tuple[str, ...] = ()
) -> Decimal:
    """Return the number that `text` says, within its range.

    Args:
        text: what was typed.
        what: its name, where it cannot be one.
        low: the least there can be.
        high: the greatest there can be; the range settles what a mark alone leaves open.
        decimals: how many digits such numbers have after the point: with three, `1.250` is no thousand.
        units: the words that may stand behind it, in small letters.

    Raises:
        CorrectInputError: no number, out of range, or one that could be two (with both).
    """
    found = written(text, decimals)
    known = found is not None and found.unit in ("", *units)
    meant = [one for one in map(_exact, found.numbers) if low <= one <= high] if found and known else []
    if len(meant) == 1:
        return meant[0]
    if meant:
        could_be = tr(" or ").join(plain_digits(one.normalize()) for one in sorted(meant))
        raise CorrectInputError(
            tr('{what} "{text}" can be read two ways', what=what, text=text.strip()),
            could_be,
            tr("type the one you mean"),
        )
    raise CorrectInputError(
        tr('{what} is "{text}"', what=what, text=text[:LONGEST_TEXT]),
        tr("a number from {low:f} to {high:f}", low=low, high=high),
        tr("such as 12.50"),
    )


def number_within(text: str, low: float, high: float, units: tuple[str, ...] = ()) -> float | None:
    """Return the measured number that `text` says, within its range; None where it says none, or two.

    Args:
        text: what was typed.
        low: the least there can be.
        high: the greatest there can be.
        units: the words that may stand behind it, in small letters.
    """
    found = written(text)
    numbers = found.numbers if found is not None and found.unit in ("", *units) else ()
    meant = [float(number) for number in numbers if low <= number <= high]
    return meant[0] if len(meant) == 1 else None


def whole_within(text: str, low: int, high: int) -> int | None:
    """Return the whole number that `text` says, within its range; None where it says none, or two."""
    found = written(text)
    numbers = found.numbers if found is not None and not found.unit else ()
    meant = [int(number) for number in numbers if number == int(number) and low <= number <= high]
    return meant[0] if len(meant) == 1 else None


def decimals_typed(text: str) -> int:
    """Return how many digits stand after the decimal mark of what was typed."""
    return len(text.strip().replace(",", ".").partition(".")[2])


def _exact(number: Decimal | Fraction) -> Decimal:
    return number if isinstance(number, Decimal) else Decimal(number.numerator) / Decimal(number.denominator)


def with_point(number: str) -> str:
    """Return a number's digits with a decimal point in the place of its comma."""
    return number.replace(",", ".")


def plain_digits(amount: Decimal) -> str:
    """Return a number as plain digits that are read back as the same, without a doubt which mark is meant."""
    text = f"{amount:f}"
    return f"{text}0" if _EITHER.fullmatch(text.removeprefix("-")) else text
