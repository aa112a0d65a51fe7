"""T. Groves and J. A. Kemp (2019), Applicability of the capstan equation to guitar strings, Archives of Acoustics 44.

Their upper bounds of friction, .26 wound and .17 plain; the bands at 10 degrees, 60 mm of head and 648 mm are derived
from the capstan law and the share of the stretch.
"""

import pytest

from breakangle.physics.string.nut_friction import held_back_cents


@pytest.mark.parametrize(("friction", "cents"), [(0.26, 6.66), (0.17, 4.35)])
def test_band_at_the_upper_bounds_of_friction(friction, cents):
    found = held_back_cents(friction_ratio=friction, break_angle_degrees=10.0, head_mm=60.0, length_mm=648.0)
    assert float(found) == pytest.approx(cents, abs=0.006)
