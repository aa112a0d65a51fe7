"""Equal temperament: the twelfth root of two, and nothing else. Plain arithmetic, no published table."""

import numpy as np
import pytest

from breakangle.physics.neck.gaps import fret_positions_mm
from breakangle.physics.string.intonation import CENTS_PER_NEPER

# Distances from the nut of frets 1 to 12 on a 648 mm scale: derived, 648 (1 - 2^(-n/12)), to the micrometre.
FRETS_MM = [
    36.369,
    70.698,
    103.099,
    133.682,
    162.549,
    189.795,
    215.512,
    239.786,
    262.697,
    284.322,
    304.734,
    324.0,
]


def test_fret_positions_of_a_648_mm_scale():
    assert np.abs(fret_positions_mm(648.0, 12)[1:] - FRETS_MM).max() <= 0.0005 + 1e-9


def test_the_number_frets_divide_what_is_left_by():
    first = fret_positions_mm(1.0, 1)[1]
    assert 1.0 / first == pytest.approx(17.817153745, abs=5e-10)


def test_a_beat_a_second_at_a3_is_eight_cents():
    """1 Hz at 220 Hz: 7.9 cents."""
    assert CENTS_PER_NEPER * np.log(221.0 / 220.0) == pytest.approx(7.9, abs=0.05)
