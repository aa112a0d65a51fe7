"""Naming: every usual order of playing, ten and more tunings, strings up to 60 c off."""

import numpy as np
import pytest

from breakangle.listening.naming.naming import Asked, OpenString, name_row
from breakangle.listening.stream import takes_in
from listening_fixtures.plucks import Pluck, render
from listening_fixtures.tunings import TUNINGS, played_rows, strings_of


@pytest.mark.parametrize("tuning", sorted(TUNINGS))
def test_rows_are_named(tuning: str) -> None:
    right, total = 0, 0
    for strings, items, pitches in played_rows(tuning, 10):
        for item, name in zip(items, name_row(pitches, strings), strict=True):
            kind = "open" if name and name.fret == 0 else "harmonic" if name and name.harmonic else "fretted"
            right += name is not None and (name.string, kind) == (item.string, item.kind)
            total += 1
    assert right >= 0.99 * total


@pytest.mark.parametrize("tuning", sorted(TUNINGS))
def test_heard_open_strings_are_named(tuning: str) -> None:
    """The same from sound: every open string of the tuning, up to 60 c off, through the whole chain."""
    strings = strings_of(tuning)
    rng = np.random.default_rng(len(tuning))
    heard = []
    for one in strings:
        off = rng.uniform(-60, 60)
        pluck = Pluck(one.open_hz * 2 ** (off / 1200), decay_one_per_s=2.0, duration_s=1.2, glide_cents=3.0)
        takes = takes_in(render(pluck, one.number), pluck.rate_hz)
        assert len(takes) == 1
        assert takes[0].pitch is not None
        heard.append(takes[0].pitch.law.partial_one_hz)
    names = name_row(heard, strings)
    assert all(name is not None and name.fret == 0 for name in names)
    found = [name.string for name in names if name is not None]
    if tuning != "mandolin":
        assert found == [one.number for one in strings]
    else:
        assert [(number + 1) // 2 for number in found] == [4, 4, 3, 3, 2, 2, 1, 1]


def test_the_order_asked_decides_between_harmonic_and_fretted() -> None:
    strings = strings_of("six, standard")
    low = strings[0].open_hz
    for kind, harmonic in (("fretted", None), ("harmonic", 2)):
        asked = [Asked(6, "open"), Asked(6, kind)]  # type: ignore[arg-type]
        name = name_row([low, 2 * low * 1.002], strings, asked)[1]
        assert name is not None
        assert (name.string, name.fret, name.harmonic) == (6, 12, harmonic)


def test_other_frets_and_harmonics() -> None:
    one = [OpenString(1, 329.628, 22)]
    row = name_row([329.628 * 1.01, 329.628 * 1.01 * 2 ** (5 / 12), 329.628 * 1.01 * 2 ** (7 / 12)], one)
    assert [name.fret for name in row if name] == [0, 5, 7]
    assert all(name and abs(name.cents - 17.2) < 0.1 for name in row)


def test_banjo_counts_its_short_string_from_its_own_nut() -> None:
    fifth = [one for one in strings_of("banjo") if one.number == 5]
    names = name_row([fifth[0].open_hz, 2 * fifth[0].open_hz], fifth, [Asked(5, "open"), Asked(5, "fretted")])
    assert [name.fret for name in names if name] == [0, 17]


def test_a_pitch_no_string_has_gets_no_name() -> None:
    assert name_row([20.0, None], strings_of("ukulele")) == [None, None]
    assert name_row([440.0], []) == [None]
