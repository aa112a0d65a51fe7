"""Steel strings: unit masses, tensions, strength, a bend, and what adjusters do, on a scale of 648 mm.

No published source stands behind these figures: they are from memory, or derived, which is worked out independently of
this code. What is published stands in `tests/published`.
"""

import numpy as np
import pytest

from breakangle.physics.string import laws as strings
from breakangle.physics.string.intonation import error_cents, error_slopes
from breakangle.planning.state.string_constants import string_constants
from breakangle.reference.strings import wire
from breakangle.reference.threads import thread

SCALE_MM = 648.0
# An ordinary 10-46 set; wound cores .014 .016 .018 in are from memory.
DIAMETER_MM = 25.4 * np.array([0.010, 0.013, 0.017, 0.026, 0.036, 0.046])
CORE_MM = 25.4 * np.array([0.010, 0.013, 0.017, 0.014, 0.016, 0.018])
PITCH_HZ = 440.0 * 2.0 ** (np.array([-5.0, -10.0, -14.0, -19.0, -24.0, -29.0]) / 12.0)
DENSITY_KG_PER_M3, MODULUS_MPA = 7850.0, 207000.0


def _tensions_n():
    plain = CORE_MM == DIAMETER_MM
    unit_mass = np.where(
        plain,
        strings.round_unit_mass_g_per_m(diameter_mm=DIAMETER_MM, density_kg_per_m3=DENSITY_KG_PER_M3),
        strings.wound_unit_mass_g_per_m(
            diameter_mm=DIAMETER_MM,
            core_mm=CORE_MM,
            core_density_kg_per_m3=DENSITY_KG_PER_M3,
            wrap_density_kg_per_m3=DENSITY_KG_PER_M3,
        ),
    )
    return strings.tension_n(unit_mass_g_per_m=unit_mass, length_mm=SCALE_MM, pitch_hz=PITCH_HZ)


def _ratios():
    tension = _tensions_n()
    axial = strings.round_axial_stiffness_n(diameter_mm=CORE_MM, modulus_mpa=MODULUS_MPA)
    bending = strings.round_bending_stiffness_n_mm2(diameter_mm=CORE_MM, modulus_mpa=MODULUS_MPA)
    return (
        strings.axial_ratio(axial_stiffness_n=axial, tension_n=tension),
        strings.stiffness_ratio(bending_stiffness_n_mm2=bending, tension_n=tension, length_mm=SCALE_MM),
    )


def test_tensions_of_an_ordinary_set():
    """Derived, cores from memory: 72.6 68.9 74.2 82.5 86.7 78.6 N (78.55 rounds either way)."""
    assert np.abs(_tensions_n() - [72.6, 68.9, 74.2, 82.5, 86.7, 78.6]).max() <= 0.055


@pytest.mark.parametrize(("inch", "lb_per_inch"), [(0.010, 2.215e-5), (0.013, 3.744e-5), (0.017, 6.402e-5)])
def test_unit_mass_of_plain_steel_is_what_makers_print(inch, lb_per_inch):
    """Unit weights as string makers print them, from memory; 1 lb is .45359237 kg. Within one spread of the table."""
    made = string_constants(
        make="plain-steel", diameter_mm=25.4 * inch, open_length_mm=SCALE_MM, pitch_hz=200.0
    )
    printed_g_per_m = lb_per_inch * 453.59237 / 0.0254
    assert abs(np.log(made.unit_mass_g_per_m / printed_g_per_m)) < made.unit_mass_sd_ratio


def test_music_wire_strength_and_the_load_on_a_thin_first_string():
    """Derived, constants of two handbooks: .010 in E4 at 648 mm works near 55 % of breaking."""
    stress = [
        strings.wire_breaking_stress_mpa(
            diameter_mm=0.254, strength_mpa=row.strength_mpa, thinning_exponent=row.thinning_exponent
        )
        for row in wire("music-wire").strength
    ]
    load = _tensions_n()[0] / (np.pi * 0.254**2 / 4.0) / np.array(stress)
    assert np.abs(load - 0.55).max() < 0.02


def test_sideways_bend():
    """Derived: .010 in E4, 648 mm, pushed 10 mm at the middle: +57.19 cents, E 207 GPa, 7850 kg/m3."""
    bend = strings.bend_cents(
        axial_stiffness_n=strings.round_axial_stiffness_n(diameter_mm=0.254, modulus_mpa=MODULUS_MPA),
        tension_n=_tensions_n()[0],
        length_mm=SCALE_MM,
        sideways_mm=10.0,
    )
    assert bend == pytest.approx(57.19, abs=0.005)


def _limp(quantity, fret):
    slopes = error_slopes(
        open_length_mm=SCALE_MM,
        fret_ratio=2.0 ** (fret / 12.0),
        clearance_mm=0.0,
        saddle_rise_mm=0.0,
        axial_ratio=0.0,
        stiffness_ratio=0.0,
    )
    return getattr(slopes, quantity)


def test_a_millimetre_of_saddle_and_of_nut():
    """Derived: saddle -2.672 cents per mm at the 12th; nut +2.672 at every fret; open string retuned."""
    assert _limp("saddle_setback_cents_per_mm", 12) == pytest.approx(-2.672, abs=0.0005)
    for fret in range(1, 25):
        assert _limp("nut_setback_cents_per_mm", fret) == pytest.approx(2.672, abs=0.0005)


@pytest.mark.parametrize(("key", "cents"), [("M3", 1.336), ("4-40-UNC", 1.697), ("6-32-UNC", 2.121)])
def test_one_turn_of_a_saddle_screw_at_the_twelfth(key, cents):
    """Derived: cents per whole turn by thread."""
    found = -_limp("saddle_setback_cents_per_mm", 12) * thread(key).pitch_mm
    assert found == pytest.approx(cents, abs=0.0005)


# The figures below came without their heights. Clearances at frets 1 and 12 that run straight from the high
# to the low string explain them: four fitted lengths for twelve figures, a check of shape, not of digits.
CLEARANCE_MM = np.stack([np.linspace(0.50, 0.67, 6), np.linspace(1.54, 1.99, 6)], axis=1)


def _set_arguments():
    axial, stiffness = _ratios()
    return {
        "open_length_mm": SCALE_MM,
        "fret_ratio": 2.0 ** (np.array([1, 12]) / 12.0),
        "saddle_rise_mm": 3.0,
        "axial_ratio": axial[:, None],
        "stiffness_ratio": stiffness[:, None],
    }


def test_uncompensated_errors_of_an_ordinary_set():
    """From memory and derived: cents at frets 1 and 12; reached within .2 cents."""
    cents = error_cents(**_set_arguments(), clearance_mm=CLEARANCE_MM)
    told = [[0.8, 3.6], [1.6, 6.5], [2.9, 10.9], [2.0, 7.1], [2.7, 9.5], [4.1, 13.7]]
    assert np.abs(cents - told).max() < 0.2


def test_what_nut_slot_and_action_do_to_pitch():
    """From memory, derived: first to sixth string, fret 1 .26 to 1.05 cents per 0.1 mm at the nut, the 12th
    .9 to 3.5 cents per 0.5 mm of action.
    """
    slopes = error_slopes(**_set_arguments(), clearance_mm=CLEARANCE_MM).clearance_cents_per_mm
    nut = 0.1 * slopes[:, 0] / 2.0 ** (1 / 12)
    assert nut[[0, 5]] == pytest.approx([0.26, 1.05], rel=0.12)
    action = 0.5 * slopes[:, 1]
    assert action[[0, 5]] == pytest.approx([0.9, 3.5], rel=0.12)
