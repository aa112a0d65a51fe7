"""Intonation and settling: several notes into one figure, disagreements said aloud."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from breakangle.listening.naming.intonation import Heard, intonation, middle, octave_from_open
from breakangle.listening.naming.settling import settling


def heard(hz: float, b: float = 0.0, spread: float = 0.2) -> Heard:
    f0 = hz / np.sqrt(1 + b)
    return Heard(hz, spread, float(f0), b)


def test_open_string_foretells_its_harmonic() -> None:
    """f_2 = 2 f0 sqrt(1 + 4 B) (Fletcher 1964): with B = 1e-4 partial 2 lies 0.2596 c above twice partial
    1."""
    found = octave_from_open([heard(110.0, 1e-4)])
    assert 1200 * np.log2(found.hz / 220.0) == pytest.approx(600 * np.log2(1.0004 / 1.0001), abs=1e-9)


@settings(deadline=None)  # the first call builds what later ones reuse: its time says nothing
@given(st.floats(-30, 30), st.floats(0, 5e-4), st.floats(60, 400))
def test_the_offset_comes_back_whatever_is_heard(offset: float, b: float, hz: float) -> None:
    octave = 2 * hz * np.sqrt((1 + 4 * b) / (1 + b))
    fretted = [heard(octave * 2 ** (offset / 1200))]
    for opens, harmonics in (([heard(hz, b)], []), ([], [heard(octave)]), ([heard(hz, b)], [heard(octave)])):
        found = intonation(opens, harmonics, fretted)
        assert found is not None
        assert found.cents == pytest.approx(offset, abs=1e-6)
        assert not found.disagreements


def test_one_bad_pluck_of_three_does_not_move_the_middle() -> None:
    plucks = [heard(220.0), heard(220.0 * 2 ** (0.1 / 1200)), heard(220.0 * 2 ** (9 / 1200))]
    assert 1200 * np.log2(middle(plucks).hz / 220.0) == pytest.approx(0.1, abs=1e-9)


def test_the_middle_of_many_plucks_is_known_as_a_median_is() -> None:
    """The median of n normal values has sqrt(π/2) times the spread of their mean (derived: its variance is
    1/(4 n f²) with the normal density f at the centre)."""
    alike = middle([heard(220.0, spread=0.6)] * 9)
    assert alike.uncertainty_cents == pytest.approx(0.6 * np.sqrt(np.pi / 2) / 3, rel=1e-4)
    assert middle([heard(220.0, spread=0.6)] * 2).uncertainty_cents == pytest.approx(0.6)


def test_disagreements_are_named() -> None:
    found = intonation([heard(110.0)], [heard(220.0 * 2 ** (4 / 1200))], [heard(221.0), heard(221.5)])
    assert found is not None
    assert any("open string and harmonic disagree by 4.0 cents" in words for words in found.disagreements)
    assert any("fretted plucks differ by 3.9 cents" in words for words in found.disagreements)
    assert found.uncertainty_cents > 1.9


def test_nothing_to_hold_it_to() -> None:
    assert intonation([heard(110.0)], [heard(220.0)], []) is None
    assert intonation([], [], [heard(220.0)]) is None


def test_settling() -> None:
    hz = [110.0 * 2 ** (cents / 1200) for cents in (0, -25, -32, -33.5, -34)]
    early = settling([[one] for one in hz[:3]])
    assert not early.settled
    assert "7.0 cents" in early.words
    late = settling([[one] for one in hz])
    assert late.settled
    assert late.drift_cents == pytest.approx((-25, -7, -1.5, -0.5))
    assert not settling([[110.0], [110.0]]).settled
