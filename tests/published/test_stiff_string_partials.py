"""Partials of a stiff string: H. Fletcher (1964), Normal vibration frequencies of a stiff piano string, J. Acoust. Soc.
Am. 36, 203.

The root values were derived independently of this code, to ten digits, from his conditions at the ends.
"""

import numpy as np
import pytest

from breakangle.physics.string.laws import (
    inharmonicity_ratio,
    round_bending_stiffness_n_mm2,
    stiff_partial_ratio,
    stiff_partial_series,
)

ROOTS = [
    (0.00236, 0, 1, 1.000027484),
    (0.00236, 0, 5, 5.003434430),
    (0.00236, 1, 1, 1.002393154),
    (0.00236, 1, 5, 5.015273123),
    (0.00236, 2, 1, 1.004770041),
    (0.00236, 2, 5, 5.027167882),
    (0.005, 0, 1, 1.000123362),
    (0.005, 0, 5, 5.015397548),
    (0.005, 1, 1, 1.005149308),
    (0.005, 1, 5, 5.040624956),
    (0.005, 2, 1, 1.010226008),
    (0.005, 2, 5, 5.066105557),
]


@pytest.mark.parametrize(("stiffness", "clamped_ends", "partial", "ratio"), ROOTS)
def test_exact_roots(stiffness, clamped_ends, partial, ratio):
    found = stiff_partial_ratio(partial=partial, stiffness_ratio=stiffness, clamped_ends=clamped_ends)
    assert found == pytest.approx(ratio, abs=6e-10)


@pytest.mark.parametrize(("stiffness", "clamped_ends", "partial", "ratio"), ROOTS)
def test_series_agrees_to_third_order(stiffness, clamped_ends, partial, ratio):
    found = stiff_partial_series(partial=partial, stiffness_ratio=stiffness, clamped_ends=clamped_ends)
    assert abs(found - ratio) < partial**3 * 100.0 * stiffness**3


def test_pinned_string_is_fletchers_formula():
    """f_n = n f_0 sqrt(1 + B n^2), B = pi^3 E d^4 / (64 T L^2), his equation for pinned ends."""
    modulus_mpa, diameter_mm, tension_n, length_mm = 200000.0, 0.432, 74.2, 648.0
    bending = round_bending_stiffness_n_mm2(diameter_mm=diameter_mm, modulus_mpa=modulus_mpa)
    B = inharmonicity_ratio(bending_stiffness_n_mm2=bending, tension_n=tension_n, length_mm=length_mm)  # noqa: N806
    assert pytest.approx(
        np.pi**3 * modulus_mpa * diameter_mm**4 / (64.0 * tension_n * length_mm**2), rel=1e-12
    ) == float(B)
    partials = np.arange(1, 11)
    found = stiff_partial_ratio(partial=partials, stiffness_ratio=np.sqrt(B) / np.pi, clamped_ends=0)
    assert np.allclose(found, partials * np.sqrt(1.0 + B * partials**2), rtol=1e-12, atol=0.0)


def test_free_of_tension_the_ends_are_those_of_a_bar():
    """Clamped bar: wave numbers 4.7300, 7.8532; clamped and pinned 3.9266, 7.0686.

    R. D. Blevins (1979), Formulas for Natural Frequency and Mode Shape, table 8-1 (from memory).
    """
    stiffness = 1e4
    for clamped_ends, wave_numbers in ((2, [4.7300, 7.8532]), (1, [3.9266, 7.0686])):
        ratio = stiff_partial_ratio(partial=[1, 2], stiffness_ratio=stiffness, clamped_ends=clamped_ends)
        assert np.allclose(np.sqrt(ratio * np.pi / stiffness), wave_numbers, atol=6e-5, rtol=0.0)
