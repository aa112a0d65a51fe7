"""A course on one crown: M. B. Anderson and R. G. Beausoleil (2024), J. Acoust. Soc. Am. 156, 683, slope at the 12th.

Their error -(g - 1) dS/L is 2.672 cents per mm at 648 mm; 1.4 and 3.8 mm on one crown leave 3.2 cents either way.
"""

import pytest

from breakangle.physics.bridge.shared_crown import common_setback_mm, left_cents


def test_two_strings_of_a_course_share_what_is_left():
    common = common_setback_mm([1.4, 3.8])
    assert common == pytest.approx(2.6)
    left = left_cents(setback_mm=[1.4, 3.8], common_mm=common, length_mm=648.0)
    assert list(left) == pytest.approx([-3.206, 3.206], abs=0.001)
