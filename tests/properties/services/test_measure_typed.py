"""Lengths as people type them: understood, or refused with what they could be; shown and read back alike."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from breakangle.model.errors import CorrectInputError
from breakangle.model.measure import parse_length

# The inch is 25.4 mm exactly: international yard and pound agreement, 1959.
TYPED = {
    "1.5": 1.5,
    "1,5": 1.5,
    " 1.5 ": 1.5,
    "1.5mm": 1.5,
    "1.5 mm": 1.5,
    "1,5 mm": 1.5,
    "1.5 MM": 1.5,
    "1.5 mm.": 1.5,
    "+1.5": 1.5,
    "-0.3": -0.3,
    "−0.3 mm": -0.3,
    "- 0.3": -0.3,
    ".5": 0.5,
    ",5": 0.5,
    "5.": 5.0,
    "5,": 5.0,
    "0,500": 0.5,
    "0.059in": 1.4986,
    "0.059 in": 1.4986,
    "0.059 inches": 1.4986,
    "0.059 in.": 1.4986,
    '.010"': 0.254,
    ".010″": 0.254,
    ".010”": 0.254,
    ".010''": 0.254,
    "10 thou": 0.254,
    "10thou": 0.254,
    "10 mil": 0.254,
    "10 mils": 0.254,
    "3/64": 1.190625,
    '3/64"': 1.190625,
    "3 / 64 in": 1.190625,
    "3⁄64": 1.190625,
    '1 1/2"': 38.1,
    "1 1/2": 38.1,
    "-1/64": -0.396875,
    "25 1/2 in": 647.7,
    "30 µm": 0.03,
    "30 μm": 0.03,
    "30um": 0.03,
    "64.8 cm": 648.0,
    "1.234,5": 1234.5,
    "1,234.5 mm": 1234.5,
    "648": 648.0,
}


@pytest.mark.parametrize("text", TYPED)
def test_what_people_type_is_understood(text):
    assert parse_length(text).mm == pytest.approx(TYPED[text], abs=1e-9)


def test_a_bare_number_is_in_the_persons_own_unit_and_a_bare_fraction_of_an_inch():
    assert parse_length("0.059", own_unit="in").mm == pytest.approx(1.4986)
    assert parse_length("0.059", own_unit="in").unit == "in"
    assert parse_length("3/64", own_unit="mm") == parse_length("3/64", own_unit="in")
    assert parse_length("1.5 mm", own_unit="in").mm == 1.5


@pytest.mark.parametrize(
    ("text", "could_be"),
    [
        ("1,500", "1.5 mm or 1500 mm"),
        ("2,125 mm", "2.125 mm or 2125 mm"),
        ("-1,500", "-1.5 mm or -1500 mm"),
        ("1,234 thou", "1.234 thou or 1234 thou"),
    ],
)
def test_ambiguous_input_is_refused_with_what_it_could_be(text, could_be):
    with pytest.raises(CorrectInputError, match=f"could be {could_be}"):
        parse_length(text)


def test_a_sensible_range_settles_what_a_number_leaves_open():
    assert parse_length("1,500", low_mm=0.0, high_mm=15.0).mm == 1.5
    assert parse_length("1,500", low_mm=200.0, high_mm=2000.0).mm == 1500.0


@pytest.mark.parametrize(
    ("text", "own_unit", "said"),
    [
        (
            "1.5",
            "in",
            "it can be from 0.020 to 0.196 in",
        ),  # 0.5 mm and 5 mm, in inches of 25.4 mm, rounded inward
        (".059", "mm", "if you meant 0.059 in, type the unit as well"),
        ("59", "mm", "if you meant 59 thou, type the unit as well"),
        ("1.5", "in", "if you meant 1.5 mm, type the unit as well"),
    ],
)
def test_out_of_range_names_the_unit_that_would_fit(text, own_unit, said):
    with pytest.raises(CorrectInputError, match=r"is out of range; it can be from 0\.") as caught:
        parse_length(text, own_unit=own_unit, low_mm=0.5, high_mm=5.0)
    assert said in str(caught.value)


REFUSED = [
    "",
    " ",
    "abc",
    "1.5 furlongs",
    "1.5.2",
    "1,5,2",
    "--1",
    "1/0",
    "1/2/3",
    "1 2",
    "1.5 mm 3",
    "nan",
    "inf",
]
REFUSED += [
    "1e3",
    "0x10",
    "1_000",
    "mm",
    '"',
    "5'",
    "1.5 kg",
    "1.5m m",
    "½",
    "9" * 400,
    "9" * 5000 + "/1",
    "1;5",
]


@pytest.mark.parametrize("text", REFUSED, ids=[text[:12] or "nothing" for text in REFUSED])
def test_what_is_no_length_is_refused_with_the_usual_ways(text):
    with pytest.raises(CorrectInputError) as caught:
        parse_length(text)
    said = str(caught.value)
    assert "is not a length; write it like 1.5, 1,5, 1.5 mm" in said
    assert len(said) < 250


@given(st.text(max_size=80))
def test_any_text_is_a_length_or_a_sentence(text):
    try:
        assert -1e4 <= parse_length(text).mm <= 1e4
    except CorrectInputError as error:
        assert str(error)


@given(
    st.integers(-99999, 99999),
    st.integers(0, 3),
    st.sampled_from([".", ","]),
    st.sampled_from(["", "mm", " in"]),
)
def test_a_decimal_comma_means_what_a_decimal_point_means(whole, decimals, mark, unit):
    number = whole / 10**decimals
    text = f"{number:.{decimals}f}"
    assume(decimals != 3 or abs(number) < 1.0 or mark == ".")  # else a group of thousands: ambiguous, above
    typed = text.replace(".", mark) + unit
    limit = 1e7
    read = parse_length(typed, low_mm=-limit, high_mm=limit)
    assert read == parse_length(text + unit, low_mm=-limit, high_mm=limit)
