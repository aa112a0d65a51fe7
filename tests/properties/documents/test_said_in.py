"""A planner's sentence in another unit and another country's numbers: the figures are the same, the words untouched."""

from typing import Any

import pytest

from breakangle.model.words.said import said_in


def inches(coarse: bool, mm: float, wide_mm: float) -> tuple[str, str]:
    decimals = 2 if coarse else 3
    return f"{mm / 25.4:.{decimals}f}", f"{wide_mm / 25.4:.{decimals}f}"


def comma(text: str) -> str:
    return text.replace(".", ",")


@pytest.mark.parametrize(
    ("sentence", "told"),
    [
        ("Relief is 2.54 mm, wanted 0.30 mm.", "Relief is 0,100 in, wanted 0,012 in."),
        ("it should then read 1.27 mm ± 0.25.", "it should then read 0,050 in ± 0,010."),
        ("lowers intonation of string 6 by 1.0 cents.", "lowers intonation of string 6 by 1,0 cents."),
        ("Tighten the truss rod 3/8 of a turn", "Tighten the truss rod 3/8 of a turn"),
        ("a mark 41.2 mm past the post", "a mark 1,62 in past the post"),
        ("reads −0.05 mm over fret 12", "reads -0,002 in over fret 12"),
    ],
)
def test_a_sentence_is_said_in_inches_with_a_decimal_comma(sentence, told):
    """1 in = 25.4 mm exactly (international yard and pound agreement, 1959)."""

    def lengths(*given: Any) -> tuple[str, str]:
        length, wide = inches(*given)
        return comma(length), comma(wide)

    assert said_in(sentence, lengths, "in", comma) == told


def test_without_a_writer_of_numbers_only_lengths_change():
    assert said_in("1.0 cents and 2.54 mm", inches, "in") == "1.0 cents and 0.100 in"
