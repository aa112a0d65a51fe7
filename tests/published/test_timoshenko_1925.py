"""S. Timoshenko (1925), Analysis of bi-metal thermostats, J. Opt. Soc. Am. 11, 233, equation 4.

His own special case m = n = 1: curvature 3 (a1 - a2)/(2 h). The neck's figures are derived from his equation.
"""

import pytest

from breakangle.physics.neck.layered_neck import layered_curvature_per_mm, relief_change_mm


def test_equal_layers_of_equal_stiffness():
    found = layered_curvature_per_mm(
        board_mm=3.0,
        neck_mm=3.0,
        board_over_neck_modulus_ratio=1.0,
        board_growth_ratio=1e-3,
        neck_growth_ratio=0.0,
    )
    assert float(found) == pytest.approx(3.0 * 1e-3 / (2.0 * 6.0), rel=1e-12)


@pytest.mark.parametrize(("ratio", "relief_mm"), [(1.0 / 1.4, 0.0546), (1.4, 0.0690)])
def test_a_board_of_six_over_a_neck_of_twenty_after_two_percent_of_moisture(ratio, relief_mm):
    """5e-5 against 2e-5 per percent, 450 mm: .055 mm with the neck 1.4 times as stiff, .069 with the board."""
    bent = layered_curvature_per_mm(
        board_mm=6.0,
        neck_mm=20.0,
        board_over_neck_modulus_ratio=ratio,
        board_growth_ratio=2.0 * 5e-5,
        neck_growth_ratio=2.0 * 2e-5,
    )
    assert float(relief_change_mm(curvature_per_mm=bent, span_mm=450.0)) == pytest.approx(
        -relief_mm, abs=6e-5
    )
