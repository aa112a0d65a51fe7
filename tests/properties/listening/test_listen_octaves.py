"""Harmonic or fretted: the open string's own partial 2 says where its harmonic lies; what nothing tells is doubted."""

import numpy as np
import pytest

from breakangle.listening.naming.intonation import Heard, apart_words
from breakangle.listening.naming.naming import name_row
from breakangle.listening.naming.octaves import Kind, octave_cost, untold
from listening_fixtures.six_strings import OPEN_HZ, STIFF, truth_hz
from listening_fixtures.tunings import strings_of

SHORT: dict[str, Kind] = {"o": "open", "h": "harmonic", "f": "fretted"}
STRINGS = strings_of("six, standard")
Row = list[tuple[int, Kind]]


def row_of(text: str, numbers: tuple[int, ...] = tuple(OPEN_HZ)) -> Row:
    """What is played: `ofh` on each string, or `o h f` in rounds."""
    if " " in text:
        return [(number, SHORT[one]) for part in text.split() for number in numbers for one in part]
    return [(number, SHORT[one]) for number in numbers for one in text]


def heard_as(row: Row, told: tuple[Kind, ...] | None = None) -> Row:
    """What that row is taken for, from its pitches and the open strings' own law alone."""
    pitches = [truth_hz(*one) for one in row]
    # Partial 2 by each take's own law (Fletcher 1964): a stopped string is four times as stiff.
    stiff = np.array([STIFF if kind == "open" else 4 * STIFF for _, kind in row])
    octaves = 2 * np.array(pitches) * np.sqrt((1 + 4 * stiff) / (1 + stiff))
    names = name_row(pitches, STRINGS, octaves_hz=[float(hz) for hz in octaves], told=told)
    assert all(name is not None for name in names)
    kinds: list[Kind] = [
        "harmonic" if one.harmonic else "fretted" if one.fret == 12 else "open" for one in names if one
    ]
    return [(one.string, kind) for one, kind in zip(names, kinds, strict=True) if one]


@pytest.mark.parametrize(
    "text", ["ohf", "ofh", "of", "o h f", "o f h", "o f", "fo", "oohhff", "ooffhh", "off", "ooofffhhh"]
)
def test_usual_orders_are_named(text: str) -> None:
    row = row_of(text)
    assert heard_as(row) == row


@pytest.mark.parametrize("text", ["ofh", "off", "ohf", "of", "ofof"])
def test_one_string_is_named_by_its_open_note(text: str) -> None:
    """String 6 is fretted 7.5 c sharp: that is no harmonic, whatever the order."""
    row = row_of(text, (6,))
    assert heard_as(row) == row


def test_a_told_order_rules() -> None:
    row = row_of("ohff", (6,))
    assert heard_as(row, ("open", "harmonic", "fretted")) == row
    row = row_of("h")
    assert heard_as(row, ("harmonic",)) == row
    assert heard_as(row_of("f"), ("fretted",)) == row_of("f")


def test_the_harmonic_is_cheaper_on_the_open_strings_partial_and_dearer_off_it() -> None:
    away = np.array([-20.0, -6.0, -3.0, 0.0, 0.5, 3.0, 6.0, 20.0])
    assert list(octave_cost("harmonic", away) < octave_cost("fretted", away)) == [
        False, False, False, True, True, False, False, False,
    ]  # fmt: skip


def note(kind: Kind, cents: float, uncertainty_cents: float = 0.15) -> tuple[Kind, Heard]:
    """A note that many cents from the open string's law, without stiffness: partial 2 is twice partial 1."""
    hz = (110.0 if kind == "open" else 220.0) * 2 ** (cents / 1200)
    return kind, Heard(hz, uncertainty_cents, hz, 0.0)


OPEN, TRUE = note("open", 0.0), note("harmonic", 0.1)
SHARP, EVEN = note("fretted", 5.0), note("fretted", 0.2)


@pytest.mark.parametrize(
    ("notes", "doubt"),
    [
        ([OPEN, TRUE, SHARP], False),
        ([OPEN, SHARP, TRUE], False),
        ([OPEN, SHARP], False),
        ([OPEN, SHARP, note("fretted", 5.3)], False),
        ([OPEN, TRUE, EVEN], False),  # as it is asked for, of a string set perfectly
        ([OPEN, EVEN, TRUE], True),  # the other way round: nothing tells
        ([OPEN, EVEN], True),
        ([OPEN, TRUE], True),
        ([TRUE, SHARP], True),  # no open string to hold them to
        ([SHARP], True),
        ([OPEN, note("harmonic", 4.0), SHARP], True),  # no harmonic lies there
        (
            [OPEN, note("fretted", 3.0), note("fretted", 8.0)],
            True,
        ),  # or a string that moved, harmonic, fretted
        ([OPEN, note("fretted", 3.0, 1.2)], True),  # within what is chance
        ([OPEN, OPEN], False),
    ],
)
def test_a_string_alone(notes: list[tuple[Kind, Heard]], doubt: bool) -> None:
    assert untold([notes]) == [doubt]


def test_strings_that_tell_lend_their_order_to_those_that_do_not() -> None:
    told, silent = [OPEN, SHARP, TRUE], [OPEN, EVEN, TRUE]
    assert untold([told, told, silent, silent, silent, silent]) == [False] * 6
    assert untold([told, silent, silent, silent, silent, silent]) == [False] + [True] * 5
    assert untold([told, told, [OPEN, EVEN]]) == [False, False, True]  # another order
    assert untold([silent] * 6) == [True] * 6


def test_open_and_harmonic_that_contradict_each_other_are_said() -> None:
    assert apart_words([OPEN[1]], [TRUE[1]]) is None
    assert apart_words([], [TRUE[1]]) is None
    words = apart_words([OPEN[1]], [note("harmonic", 4.0)[1]])
    assert words is not None
    assert "4.0 cents" in words
