"""Amounts of money: what a screen writes is read back as the same, and what could be two is never guessed."""

from decimal import Decimal

import pytest
from babel.numbers import format_decimal
from hypothesis import given
from hypothesis import strategies as st

from breakangle.model.errors import CorrectInputError
from breakangle.model.typed_number import number_typed, plain_digits
from breakangle.services.typed_values.amounts import decimals_of
from breakangle.services.workshop.prices import exact_amount

AMOUNTS = st.decimals(Decimal("-99999999"), Decimal("99999999"), places=2)
# Written with . , no-break spaces and an apostrophe between thousands, and with both decimal marks.
LOCALES = ("en", "de", "fr", "sv", "de_CH", "es", "pl")


@given(amount=AMOUNTS, locale=st.sampled_from(LOCALES))
def test_what_the_screen_writes_is_read_back(amount: Decimal, locale: str):
    written = format_decimal(amount, format="#,##0.00", locale=locale)
    assert exact_amount(written, "the price") == amount


@given(thousands=st.integers(1, 999), rest=st.integers(0, 999), mark=st.sampled_from(",."))
def test_three_digits_after_one_mark_are_refused_with_both_amounts(thousands: int, rest: int, mark: str):
    whole, part = 1000 * thousands + rest, thousands + Decimal(rest) / 1000
    with pytest.raises(CorrectInputError) as refused:
        exact_amount(f"{thousands}{mark}{rest:03}", "the price")
    found = {exact_amount(one, "the price") for one in refused.value.possible.split(" or ")}
    assert found == {Decimal(whole), part}


@given(amount=st.decimals(Decimal("-99999"), Decimal("99999"), places=3))
def test_plain_digits_are_always_read_back(amount: Decimal):
    assert exact_amount(plain_digits(amount), "the price") == amount


@pytest.mark.parametrize("typed, meant", [
    ("1250", "1250"), ("1,250.00", "1250"), ("1.250,00", "1250"), ("1 250,00", "1250"), ("1,250,000", "1250000"),
    ("0.335", "0.335"), ("0,335", "0.335"), ("12,5", "12.5"), (" 65 ", "65"), ("−4.50", "-4.5"), ("1.2500", "1.25"),
    (",5", "0.5"), ("5.", "5"), ("٣,٥", "3.5"),
])  # fmt: skip
def test_what_can_only_be_one_amount_is_taken(typed: str, meant: str):
    assert exact_amount(typed, "the price") == Decimal(meant)


@pytest.mark.parametrize(
    "typed", ["", "ten", "1e3", "1,25,000", "12,50,0", "1 25", "--5", "NaN", "9" * 80, "1,250.0.0"]
)
def test_what_is_no_amount_is_refused(typed: str):
    with pytest.raises(CorrectInputError, match="a number from"):
        exact_amount(typed, "the price")


def test_three_digits_are_no_thousand_where_the_currency_has_three_or_the_range_says_so():
    assert exact_amount("1.250", "the price", 3) == Decimal("1.25")
    assert number_typed("8.125", "tax", Decimal(0), Decimal(100)) == Decimal("8.125")


def test_a_number_s_own_digits_are_counted():
    numbers = (21.4, -5.0, 100.0, Decimal("8.10"), Decimal("1E+3"), 0.125)
    assert [decimals_of(one) for one in numbers] == [1, 0, 0, 2, 0, 3]
    assert decimals_of(Decimal("65"), 2) == 2
