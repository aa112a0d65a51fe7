"""Amounts as people and the screens write them: groups of thousands, decimal marks; ambiguity is refused."""

import re
from decimal import Decimal

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr

LONGEST_TEXT = 60
MINUS_SIGNS = ("-", "\N{MINUS SIGN}")
# What some languages put between thousands besides . and ,: spaces (no-break ones too) and apostrophes.
_PARTED = re.compile(r"\d{1,3}(?:[ \u00a0\u202f'\u2019]\d{3})+(?:[.,]\d+)?", re.ASCII)
_PARTING = re.compile(r"[ \u00a0\u202f'\u2019]")
_PLAIN = re.compile(r"\d+(?:[.,]\d*)?|[.,]\d+", re.ASCII)
_GROUPED = re.compile(r"\d{1,3}(?:,\d{3})+\.\d+|\d{1,3}(?:\.\d{3})+,\d+", re.ASCII)
_ALL_GROUPED = re.compile(r"\d{1,3}(?:(?:,\d{3}){2,}|(?:\.\d{3}){2,})", re.ASCII)
_EITHER = re.compile(r"[1-9]\d{0,2}[.,]\d{3}", re.ASCII)


def number_typed(text: str, what: str, low: Decimal, high: Decimal, decimals: int = 0) -> Decimal:
    """Return the number that `text` says, with a decimal point or comma, thousands grouped or not.

    Args:
        text: what was typed.
        what: its name, where it cannot be one.
        low: the least there can be.
        high: the greatest there can be; the range settles what a mark alone leaves open.
        decimals: how many digits such numbers have after the point: with three, `1.250` is no thousand.

    Raises:
        CorrectInputError: no number, out of range, or one that could be two (with both).
    """
    meant = [one for one in _meanings(text.strip(), decimals) if low <= one <= high]
    if len(meant) == 1:
        return meant[0]
    if meant:
        could_be = tr(" or ").join(amount_text(one.normalize()) for one in sorted(meant))
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


def amount_text(amount: Decimal) -> str:
    """Return an amount as plain digits that are read back as the same, without a doubt which mark is meant."""
    text = f"{amount:f}"
    return f"{text}0" if _EITHER.fullmatch(text.removeprefix("-")) else text


def decimals_of(number: Decimal | float, least: int = 0) -> int:
    """Return how many digits a number has after the point as it is stored, at least `least`."""
    exact = number if isinstance(number, Decimal) else Decimal(repr(float(number))).normalize()
    exponent = exact.as_tuple().exponent
    return max(least, -exponent) if isinstance(exponent, int) else least


def _meanings(typed: str, decimals: int) -> list[Decimal]:
    """Return every number that `typed` can be: none, one, or two where a mark may be decimal or group thousands."""
    if len(typed) > LONGEST_TEXT:
        return []
    sign = -1 if typed.startswith(MINUS_SIGNS) else 1
    digits = typed.removeprefix("+") if typed.startswith("+") else typed[sign < 0 :].lstrip()
    digits = re.sub(r"\d", lambda found: str(int(found[0])), digits)
    if _PARTED.fullmatch(digits):
        digits = _PARTING.sub("", digits)
    elif _EITHER.fullmatch(digits) and decimals < 3:
        as_decimal = Decimal(digits.replace(",", "."))
        return [sign * as_decimal, sign * as_decimal * 1000]
    elif _GROUPED.fullmatch(digits) or _ALL_GROUPED.fullmatch(digits):
        last = max(digits.rfind(","), digits.rfind(".")) if _GROUPED.fullmatch(digits) else len(digits)
        digits = re.sub(r"[.,]", "", digits[:last]) + digits[last:]
    return [sign * Decimal(digits.replace(",", "."))] if _PLAIN.fullmatch(digits) else []
