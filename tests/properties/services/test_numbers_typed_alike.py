"""Numbers are typed alike at every entrance: the same texts are understood, and the same ones refused, everywhere.

The figures are what the texts say [derived]; that a mark before three digits can be two things is common practice, no
source.
"""

import argparse
from collections.abc import Callable
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from breakangle.cli.render.pairs import number_in
from breakangle.cli.render.typed_options import number, whole
from breakangle.documents.true_size.kinds import Option
from breakangle.model.complaint_hints import hint
from breakangle.model.errors import BreakangleError
from breakangle.model.measure import parse_length, parse_number
from breakangle.model.typed_number import number_typed, number_within, written
from breakangle.services.climate.visit_air import _number as air_number
from breakangle.services.intake.typed_arrival import _number as taken_in_number
from breakangle.services.records.edit import count_typed, number_or_none
from breakangle.services.strings.request import _number as string_number
from breakangle.services.workshop.prices import exact_quantity

REFUSED = (BreakangleError, argparse.ArgumentTypeError)
ALIKE = {
    "3": 3.0, " 3 ": 3.0, "+3": 3.0, "2.5": 2.5, "2,5": 2.5, ".5": 0.5, ",5": 0.5, "5.": 5.0, "1/4": 0.25,
    "1 1/2": 1.5, "3⁄4": 0.75, "0,125": 0.125, "٣,٥": 3.5,
}  # fmt: skip
NO_NUMBER = (
    "",
    "abc",
    "1e1",
    "1_0",
    "nan",
    "inf",
    "Infinity",
    "0x10",
    "--1",
    "1.2.3",
    "1/0",
    "5 4",
    "½",
    "9" * 80,
)
ENTRANCES: dict[str, Callable[[str], float | None]] = {
    "a length": lambda text: parse_length(text + " mm").mm if text.strip() else parse_length(text).mm,
    "a number with a unit": lambda text: parse_number(text, ("c",))[0],
    "an option of a verb": number,
    "STRING=VALUE of a verb": number_in,
    "an option of a drawing": lambda text: Option("o", "o", "ratio", 1.0, 0.0, 99.0).read(text),  # type: ignore[dict-item, return-value]
    "a field of a record": lambda text: number_or_none(text or "abc", "it"),
    "air at take-in": lambda text: taken_in_number(text or "abc", "it", 0.0, 99.0, "%", ("%",)),
    "air of a climate page": lambda text: air_number(text, "it", (0.0, 99.0), "%"),
    "a string's weight": lambda text: string_number(text, "it"),
    "a quantity on a bill": lambda text: float(exact_quantity(text)),
}
WHOLE: dict[str, Callable[[str], float]] = {
    "a whole option of a verb": whole,
    "a count of a record": lambda text: count_typed(text, "it"),
    "a count of a drawing": lambda text: Option("o", "o", "count", 1.0, 0.0, 99.0).read(text),  # type: ignore[dict-item, return-value]
}


@pytest.mark.parametrize("entrance", ENTRANCES)
def test_the_same_texts_are_understood_everywhere(entrance: str):
    found = {text: ENTRANCES[entrance](text) for text in ALIKE}
    assert found == pytest.approx(ALIKE)


@pytest.mark.parametrize("entrance", [*ENTRANCES, *WHOLE])
@pytest.mark.parametrize("text", NO_NUMBER)
def test_the_same_texts_are_refused_everywhere(entrance: str, text: str):
    with pytest.raises(REFUSED):
        (ENTRANCES | WHOLE)[entrance](text)  # type: ignore[operator]


@pytest.mark.parametrize("entrance", WHOLE)
def test_a_whole_number_may_be_written_in_any_way_and_a_part_is_refused(entrance: str):
    assert [WHOLE[entrance](text) for text in ("7", " 7 ", "7.0", "7,", "14/2")] == [7, 7, 7, 7, 7]
    with pytest.raises(REFUSED):
        WHOLE[entrance]("7.5")


def test_a_comma_before_three_digits_is_two_numbers_and_a_point_only_where_there_are_fewer_decimals():
    assert [float(one) for one in written("1,500").numbers] == [1.5, 1500.0]
    assert [float(one) for one in written("1.500").numbers] == [1.5]
    assert [float(one) for one in written("1.500", decimals=2).numbers] == [1.5, 1500.0]
    assert [float(one) for one in written("1,500", decimals=3).numbers] == [1.5, 1500.0]
    assert number_within("1,500", 0.0, 100.0) == 1.5
    assert number_within("1,500", 0.0, 10_000.0) is None
    assert number_typed("1,500", "it", Decimal(0), Decimal(100)) == Decimal("1.5")


def test_a_file_is_told_the_point_that_its_comma_stands_for():
    assert "no quotes: 2.5" in hint("mm", "2,5", {"low": 0.0, "high": 5.0, "unit": "mm"}, {})


@given(st.decimals(Decimal("-99999"), Decimal("99999"), places=2))
def test_a_decimal_is_read_back_with_a_point_and_with_a_comma(value: Decimal):
    for text in (f"{value:f}", f"{value:f}".replace(".", ",")):
        assert number_within(text, -1e5, 1e5) == float(value)


@given(st.text(max_size=70))
def test_any_text_is_a_number_or_none(text: str):
    found = written(text)
    assert found is None or 1 <= len(found.numbers) <= 2
