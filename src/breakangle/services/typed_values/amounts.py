"""Amounts as they are stored and shown: how many digits they have after the point."""

from decimal import Decimal


def decimals_of(number: Decimal | float, least: int = 0) -> int:
    """Return how many digits a number has after the point as it is stored, at least `least`."""
    exact = number if isinstance(number, Decimal) else Decimal(repr(float(number))).normalize()
    exponent = exact.as_tuple().exponent
    return max(least, -exponent) if isinstance(exponent, int) else least
