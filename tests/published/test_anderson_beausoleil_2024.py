"""M. B. Anderson and R. G. Beausoleil (2024), Classical guitar intonation and compensation: The well-tempered guitar,
J. Acoust. Soc. Am. 156, 683: an earlier version of its tables.

In this version the rms is divided by 13 and string 2 of the extra-hard set has EA/T 56.3; another version, whose
sources the authors keep in public, is in `test_anderson_beausoleil_manuscript`. Which of them the journal printed was
not compared. The prototype's cents (their specification tables: scale 650, nut string height 1, saddle 4 above it;
EA/T 51, B0 .00236) and the tables of best setbacks of two nylon sets, with the figures as printed there.
"""

import numpy as np
import pytest

from breakangle.physics.string.finger import finger_stretch
from breakangle.physics.string.intonation import CENTS_PER_NEPER, error_cents
from breakangle.physics.string.intonation_limits import best_setbacks, finger_stretch_ratio
from breakangle.physics.string.laws import axial_ratio_from_stretch, stretch_slope_ratio

SCALE_MM = 650.0
NUT_HEIGHT_MM, SADDLE_RISE_MM = 1.0, 4.0
FRETS = np.arange(1, 13)
RATIO = 2.0 ** (FRETS / 12.0)

PROTOTYPE = {
    (0.0, 0.0): [1.727, 1.609, 1.817, 2.124, 2.483, 2.883, 3.316, 3.782, 4.280, 4.810, 5.375, 5.975],
    (1.8, -0.38): [.434, .007, -.106, -.140, -.141, -.124, -.095, -.058, -.015, .035, .089, .148],
}  # fmt: skip

# radius mm, unit mass mg/mm, tension N | R, EA/T, B0, E GPa | best saddle and nut setback mm, rms cents
NORMAL_TENSION = [
    (0.356, 0.374, 68.6, 23.6, 48.2, 0.00190, 8.33, 1.48, -0.36, 0.143),
    (0.409, 0.505, 52.0, 23.8, 48.7, 0.00220, 4.82, 1.69, -0.36, 0.145),
    (0.512, 0.836, 54.2, 28.8, 58.6, 0.00301, 3.87, 2.33, -0.43, 0.177),
    (0.368, 1.920, 70.0, 22.5, 46.0, 0.00192, 7.56, 1.49, -0.34, 0.137),
    (0.445, 3.289, 67.3, 23.9, 48.7, 0.00239, 5.28, 1.83, -0.36, 0.146),
    (0.546, 5.470, 62.8, 28.6, 58.2, 0.00321, 3.90, 2.46, -0.43, 0.177),
]
EXTRA_HARD_TENSION = [
    (0.368, 0.401, 73.6, 25.8, 52.6, 0.00206, 9.09, 1.62, -0.39, 0.157),
    (0.423, 0.544, 56.1, 27.7, 56.3, 0.00244, 5.62, 1.91, -0.42, 0.169),
    (0.528, 0.891, 57.8, 29.6, 60.2, 0.00315, 3.97, 2.43, -0.44, 0.182),
    (0.381, 2.007, 73.1, 25.0, 51.0, 0.00209, 8.17, 1.63, -0.38, 0.152),
    (0.457, 3.486, 71.3, 23.7, 48.5, 0.00245, 5.26, 1.87, -0.36, 0.145),
    (0.571, 6.134, 70.4, 26.6, 54.3, 0.00324, 3.72, 2.47, -0.40, 0.165),
]
STRINGS = NORMAL_TENSION + EXTRA_HARD_TENSION
PITCH_HZ = np.array([329.628, 246.942, 195.998, 146.832, 110.0, 82.407] * 2)


def clearances_mm(saddle_setback_mm=0.0, nut_setback_mm=0.0):
    """The open string over each crown: a straight line from nut to saddle, the crowns in line."""
    along = SCALE_MM - SCALE_MM / RATIO + nut_setback_mm
    return NUT_HEIGHT_MM + SADDLE_RISE_MM * along / (SCALE_MM + saddle_setback_mm + nut_setback_mm)


@pytest.mark.parametrize(("setbacks", "printed"), PROTOTYPE.items())
def test_cents_of_the_prototype_string_to_the_printed_digit(setbacks, printed):
    cents = error_cents(
        open_length_mm=SCALE_MM,
        fret_ratio=RATIO,
        clearance_mm=clearances_mm(*setbacks),
        saddle_rise_mm=SADDLE_RISE_MM,
        axial_ratio=51.0,
        stiffness_ratio=0.00236,
        saddle_setback_mm=setbacks[0],
        nut_setback_mm=setbacks[1],
    )
    assert np.abs(cents - printed).max() <= 0.0005 + 1e-6


def _cents_by_their_stiffness(axial, stiffness, saddle_setback_mm, nut_setback_mm):
    """Their tables were made with B_n = g_n B0, as if setbacks and stretch left it alone."""
    limp = error_cents(
        open_length_mm=SCALE_MM,
        fret_ratio=RATIO,
        clearance_mm=clearances_mm(saddle_setback_mm, nut_setback_mm),
        saddle_rise_mm=SADDLE_RISE_MM,
        axial_ratio=axial,
        stiffness_ratio=0.0,
        saddle_setback_mm=saddle_setback_mm,
        nut_setback_mm=nut_setback_mm,
    )
    second = 1.0 + np.pi**2 / 2.0
    stopped = RATIO * stiffness
    factor = (1 + stopped + second * stopped**2) / (1 + stiffness + second * stiffness**2)
    return limp + CENTS_PER_NEPER * np.log(factor)


def _their_best(axial, stiffness):
    """Least-squares saddle and nut setback in mm and the rms as they divide it, by 13 for twelve frets."""
    setbacks, step = np.zeros(2), 1e-3
    for _ in range(5):
        cents = _cents_by_their_stiffness(axial, stiffness, *setbacks)
        slopes = [
            (
                _cents_by_their_stiffness(axial, stiffness, *(setbacks + d))
                - _cents_by_their_stiffness(axial, stiffness, *(setbacks - d))
            )
            / (2 * step)
            for d in np.eye(2) * step
        ]
        setbacks = setbacks - np.linalg.lstsq(np.transpose(slopes), cents, rcond=None)[0]
    left = _cents_by_their_stiffness(axial, stiffness, *setbacks)
    return (*setbacks, np.sqrt(np.sum(left**2) / 13.0))


@pytest.mark.parametrize("row", STRINGS)
def test_best_setbacks_as_their_tables_have_them(row):
    """Rounding allows .005 (printed setback) and .003 mm (printed B0) of saddle; reached: .007 at most."""
    saddle, nut, rms = _their_best(axial=row[4], stiffness=row[5])
    assert abs(saddle - row[7]) <= 0.007
    assert abs(nut - row[8]) <= 0.005
    assert abs(rms - row[9]) <= 0.0006


def test_best_setbacks_of_the_full_physics_lie_close_by():
    """With the stopped string's own length and tension in B_n the saddle moves by less than .05 mm."""
    rows = np.array(STRINGS)
    best = best_setbacks(
        open_length_mm=SCALE_MM,
        fret_ratio=RATIO,
        clearance_mm=clearances_mm(),
        saddle_rise_mm=SADDLE_RISE_MM,
        axial_ratio=rows[:, 4:5],
        stiffness_ratio=rows[:, 5:6],
    )
    assert np.abs(best.saddle_setback_mm - rows[:, 7]).max() < 0.05
    assert np.abs(best.nut_setback_mm - rows[:, 8]).max() < 0.01
    # The printed rms was divided by 13; frets 1 to 12 are twelve.
    assert np.abs(best.rms_cents - rows[:, 9] * np.sqrt(13.0 / 12.0)).max() < 0.004


def test_axial_ratio_follows_from_r_and_stiffness_from_axial_ratio():
    rows = np.array(STRINGS)
    assert np.abs(axial_ratio_from_stretch(slope_ratio=rows[:, 3]) - rows[:, 4]).max() <= 0.1 + 0.05 + 1e-9
    from_radius = np.sqrt(rows[:, 4]) * rows[:, 0] / (2.0 * SCALE_MM)
    assert np.abs(from_radius - rows[:, 5]).max() <= 0.00001


def test_tensions_and_moduli_of_their_tables():
    from breakangle.physics.string.laws import round_axial_stiffness_n, tension_n

    rows = np.array(STRINGS)
    tension = tension_n(unit_mass_g_per_m=rows[:, 1], length_mm=SCALE_MM, pitch_hz=PITCH_HZ)
    # The unit mass is printed to .001 mg/mm: half of that is .13 % of the lightest string, .09 N.
    assert np.abs(tension - rows[:, 2]).max() <= 0.05 + 0.10
    stiffness = round_axial_stiffness_n(diameter_mm=2 * rows[:, 0], modulus_mpa=1000.0 * rows[:, 6])
    assert np.abs(stiffness / rows[:, 2] / rows[:, 4] - 1.0).max() < 0.005


def test_r_of_string_one_from_the_stretch_measurement():
    """Normal-tension string 1: marks moved along .5 mm steps near the first fret, pitch read at each."""
    moved_mm = np.arange(0.0, 3.5, 0.5)
    pitch_hz = np.array([326.0, 331.5, 337.5, 345.0, 352.0, 357.5, 363.0])
    sigma_hz = np.array([0.78, 0.76, 0.83, 0.89, 0.92, 0.93, 0.93])
    at_the_nut_mm = 2.0 ** (1.0 / 12.0) * moved_mm
    hz_per_mm = np.polyfit(at_the_nut_mm, pitch_hz, 1, w=1.0 / sigma_hz)[0]
    nominal_hz = 440.0 * 2.0 ** (-5.0 / 12.0)
    slope = stretch_slope_ratio(length_mm=SCALE_MM, pitch_hz=nominal_hz, hz_per_mm=hz_per_mm)
    assert slope == pytest.approx(23.6145, abs=5e-5)


def test_a_finger_ten_millimetres_behind_the_first_fret():
    """Their text: with d = 10 mm the stretch at the first fret is about 47 parts per million."""
    where = {
        "open_length_mm": SCALE_MM,
        "fret_ratio": RATIO[0],
        "clearance_mm": clearances_mm(1.9, -0.37)[0],
        "saddle_rise_mm": SADDLE_RISE_MM,
        "saddle_setback_mm": 1.9,
        "nut_setback_mm": -0.37,
    }
    from breakangle.physics.string.stopped_string import stopped_lengths

    added = finger_stretch_ratio(**where, behind_mm=10.0)
    assert (added + stopped_lengths(**where).stretch_ratio) * 1e6 == pytest.approx(47.0, abs=0.5)


# Cents by a finger 10 mm behind each of frets 1 to 12 against one at the fret itself, the prototype string.
BY_THE_FINGER = [.600, .208, .136, .109, .099, .094, .094, .096, .100, .106, .113, .121]  # fmt: skip


def test_a_finger_that_does_not_press_adds_what_their_string_gets_at_every_fret():
    """Theirs are the differences of exact cents; e = p²/(2 L) (1/d + 1/(x - d)) is second order, .5 % more."""
    from_saddle = SCALE_MM / RATIO
    runs_straight_on = 10.0 * (NUT_HEIGHT_MM + SADDLE_RISE_MM) / from_saddle
    added = finger_stretch(
        open_length_mm=SCALE_MM,
        along_behind_mm=SCALE_MM - from_saddle,
        clearance_mm=clearances_mm(),
        saddle_rise_mm=SADDLE_RISE_MM,
        behind_mm=10.0,
        press_mm=runs_straight_on,
    )
    cents = 0.5 * CENTS_PER_NEPER * (51.0 + 1.0) * added.stretch_ratio
    assert np.abs(cents - BY_THE_FINGER).max() < 0.0035
