"""Laws of one string: round trips, scaling, what is monotone, limits without stiffness."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from breakangle.physics.string import laws as strings

unit_masses = st.floats(0.2, 80.0)
lengths_mm = st.floats(300.0, 900.0)
pitches_hz = st.floats(30.0, 900.0)
tensions_n = st.floats(20.0, 250.0)
stiffnesses = st.floats(1e-5, 0.02)
ends = st.sampled_from([0, 1, 2])


@given(unit_masses, lengths_mm, pitches_hz)
def test_tension_and_pitch_undo_each_other(unit_mass, length, pitch):
    tension = strings.tension_n(unit_mass_g_per_m=unit_mass, length_mm=length, pitch_hz=pitch)
    back = strings.pitch_hz(tension_n=tension, unit_mass_g_per_m=unit_mass, length_mm=length)
    assert np.isclose(back, pitch, rtol=1e-12)


@given(unit_masses, lengths_mm, pitches_hz)
def test_an_octave_up_is_four_times_the_tension(unit_mass, length, pitch):
    low, high = strings.tension_n(unit_mass_g_per_m=unit_mass, length_mm=length, pitch_hz=[pitch, 2 * pitch])
    assert np.isclose(high, 4.0 * low, rtol=1e-12)


@given(st.floats(0.3, 3.0), st.floats(0.2, 0.95), st.floats(500.0, 9000.0))
def test_a_wrap_that_fills_its_ring_with_the_core_is_a_plain_string(diameter, core_share, density):
    wound = strings.wound_unit_mass_g_per_m(
        diameter_mm=diameter,
        core_mm=diameter * core_share,
        core_density_kg_per_m3=density,
        wrap_density_kg_per_m3=density,
        wrap_fill_ratio=1.0,
    )
    plain = strings.round_unit_mass_g_per_m(diameter_mm=diameter, density_kg_per_m3=density)
    assert np.isclose(wound, plain, rtol=1e-12)


@given(st.floats(0.3, 3.0), st.floats(0.2, 0.9))
def test_a_helix_weighs_less_than_a_full_ring_and_more_than_its_core(diameter, core_share):
    figures = {"diameter_mm": diameter, "core_mm": diameter * core_share, "core_density_kg_per_m3": 7830.0}
    helix = strings.wound_unit_mass_g_per_m(**figures, wrap_density_kg_per_m3=7830.0)
    full = strings.wound_unit_mass_g_per_m(**figures, wrap_density_kg_per_m3=7830.0, wrap_fill_ratio=1.0)
    core = strings.round_unit_mass_g_per_m(diameter_mm=diameter * core_share, density_kg_per_m3=7830.0)
    assert core < helix < full


@given(st.floats(0.1, 3.0), st.floats(2e3, 3e5))
def test_bending_follows_from_axial_stiffness(diameter, modulus):
    axial = strings.round_axial_stiffness_n(diameter_mm=diameter, modulus_mpa=modulus)
    by_axial = strings.bending_from_axial_n_mm2(axial_stiffness_n=axial, diameter_mm=diameter)
    bending = strings.round_bending_stiffness_n_mm2(diameter_mm=diameter, modulus_mpa=modulus)
    assert np.isclose(by_axial, bending, rtol=1e-12)


@given(st.floats(1.0, 500.0), tensions_n, lengths_mm)
def test_inharmonicity_is_the_square_of_stiffness(bending, tension, length):
    where = {"bending_stiffness_n_mm2": bending, "tension_n": tension, "length_mm": length}
    ratio = strings.stiffness_ratio(**where)
    assert np.isclose(strings.inharmonicity_ratio(**where), np.pi**2 * ratio**2, rtol=1e-12)


@given(stiffnesses, ends)
def test_partials_are_sharper_than_harmonic_and_more_so_higher_up(stiffness, clamped_ends):
    partials = np.arange(1, 13)
    ratio = strings.stiff_partial_ratio(
        partial=partials, stiffness_ratio=stiffness, clamped_ends=clamped_ends
    )
    stretched = ratio / partials
    assert np.all(stretched >= 1.0)
    assert np.all(np.diff(stretched) > -1e-12)


@given(stiffnesses, st.integers(1, 12))
def test_each_clamped_end_sharpens(stiffness, partial):
    pinned, mixed, clamped = (
        strings.stiff_partial_ratio(partial=partial, stiffness_ratio=stiffness, clamped_ends=m)
        for m in (0, 1, 2)
    )
    assert pinned < mixed < clamped


@given(ends, st.integers(1, 12))
def test_without_stiffness_partials_are_harmonic(clamped_ends, partial):
    ratio = strings.stiff_partial_ratio(partial=partial, stiffness_ratio=0.0, clamped_ends=clamped_ends)
    assert np.isclose(ratio, partial, rtol=1e-14)


@given(st.floats(1e-5, 0.004), ends, st.integers(1, 6))
def test_roots_satisfy_the_conditions_at_the_ends(stiffness, clamped_ends, partial):
    """The determinant of the end conditions, written out anew, vanishes at the root found."""
    ratio = float(
        strings.stiff_partial_ratio(partial=partial, stiffness_ratio=stiffness, clamped_ends=clamped_ends)
    )
    bend = 2.0 * np.pi * stiffness * ratio
    p = np.sqrt((np.sqrt(1.0 + bend**2) - 1.0) / 2.0) / stiffness
    q = np.sqrt((np.sqrt(1.0 + bend**2) + 1.0) / 2.0) / stiffness
    # Divided by cosh q, which is beyond counting for a string.
    if clamped_ends == 0:
        condition = np.sin(p)
    elif clamped_ends == 1:
        condition = (q * np.sin(p) - p * np.cos(p)) / q
    else:
        condition = (2.0 * p * q * -np.cos(p) + (q**2 - p**2) * np.sin(p)) / q**2
    assert abs(condition) < 1e-9 / stiffness


@given(st.floats(1e3, 2e4), tensions_n, lengths_mm, st.floats(0.5, 20.0))
def test_a_bend_is_sharp_either_way_and_more_so_further(axial, tension, length, sideways):
    axial = axial + tension
    bend = strings.bend_cents(
        axial_stiffness_n=axial,
        tension_n=tension,
        length_mm=length,
        sideways_mm=[0.0, sideways, -sideways, 1.5 * sideways],
    )
    assert bend[0] == 0.0
    assert bend[1] == bend[2]
    assert bend[3] > bend[1] > 0.0


@given(st.floats(0.1, 2.0))
def test_thinner_wire_is_stronger_stuff(diameter):
    thick, thin = strings.wire_breaking_stress_mpa(
        diameter_mm=[diameter, 0.9 * diameter], strength_mpa=2211.0, thinning_exponent=0.145
    )
    assert thin > thick


def test_any_shape_broadcasts():
    ratio = strings.stiff_partial_ratio(
        partial=np.arange(1, 6), stiffness_ratio=np.array([[0.001], [0.002], [0.003]]), clamped_ends=2
    )
    assert ratio.shape == (3, 5)
    assert ratio[1, 2] == strings.stiff_partial_ratio(partial=3, stiffness_ratio=0.002, clamped_ends=2)
