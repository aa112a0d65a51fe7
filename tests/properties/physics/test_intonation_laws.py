"""Laws of intonation: what sharpens, what flattens, what is left without a cause, slopes by differences."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from breakangle.physics.string.intonation import CENTS_PER_NEPER, error_cents, error_slopes
from breakangle.physics.string.intonation_limits import (
    best_setbacks,
    exact_error_cents,
    finger_stretch_ratio,
    linear_error_cents,
)

FRETS = np.arange(1, 25)
RATIO = 2.0 ** (FRETS / 12.0)
# Expanding the end conditions one order further gives beta^3 (m^3 + 2 m pi^2 / 3), m clamped ends; the rest
# of the series is covered by a tenth more and a unit.
SERIES_CUBIC = {m: 1.1 * (m**3 + 2.0 * m * np.pi**2 / 3.0) + 1.0 for m in (0, 1, 2)}


@st.composite
def strings(draw):
    """One string of an ordinary instrument, its clearances over 24 crowns in line."""
    length = draw(st.floats(330.0, 880.0))
    nut, rise = draw(st.floats(0.1, 1.5)), draw(st.floats(0.5, 8.0))
    along = length - length / RATIO
    return {
        "open_length_mm": length,
        "fret_ratio": RATIO,
        "clearance_mm": nut + rise * along / length,
        "saddle_rise_mm": rise,
        "axial_ratio": draw(st.floats(40.0, 600.0)),
        "stiffness_ratio": draw(st.floats(0.0003, 0.006)),
        "saddle_setback_mm": draw(st.floats(-2.0, 7.0)),
        "nut_setback_mm": draw(st.floats(-0.8, 0.2)),
        "clamped_ends": draw(st.sampled_from([0.0, 1.0, 2.0])),
        "stretch_share_ratio": draw(st.floats(0.7, 1.0)),
    }


@given(strings(), st.floats(0.02, 1.0))
def test_more_clearance_is_sharper(string, more):
    higher = {**string, "clearance_mm": string["clearance_mm"] + more}
    assert np.all(error_cents(**higher) > error_cents(**string))


@given(strings(), st.floats(0.02, 2.0))
def test_saddle_back_is_flatter_and_more_so_up_the_board(string, back):
    moved = {**string, "saddle_setback_mm": string["saddle_setback_mm"] + back}
    change = error_cents(**moved) - error_cents(**string)
    assert np.all(change < 0.0)
    assert np.all(np.diff(change) < 0.0)


@given(strings(), st.floats(0.02, 0.5))
def test_nut_setback_shifts_all_frets_alike(string, back):
    """By C dN / L; within a twentieth, which is what the change of stretch at the first frets can make."""
    limp = {**string, "axial_ratio": 0.0, "stiffness_ratio": 0.0}
    moved = {**limp, "nut_setback_mm": limp["nut_setback_mm"] + back}
    change = error_cents(**moved) - error_cents(**limp)
    alike = CENTS_PER_NEPER * back / string["open_length_mm"]
    assert np.allclose(change, alike, rtol=0.03)
    stretched = {**string, "nut_setback_mm": string["nut_setback_mm"] + back}
    assert np.all(error_cents(**stretched)[2:] > error_cents(**string)[2:])


@given(strings(), st.floats(1.01, 1.5))
def test_more_stiffness_of_either_kind_is_sharper(string, factor):
    for name in ("axial_ratio", "stiffness_ratio"):
        stiffer = {**string, name: string[name] * factor}
        assert np.all(error_cents(**stiffer) > error_cents(**string))


@given(strings())
def test_zero_stiffness_and_axial_ratio_leave_only_geometry(string):
    """What is left is lengths and the thinning of the string, from coordinates of nut, crown and saddle."""
    string = {**string, "axial_ratio": 0.0, "stiffness_ratio": 0.0}
    length, rise = string["open_length_mm"], string["saddle_rise_mm"]
    saddle = np.array([length / RATIO + string["saddle_setback_mm"], np.zeros(24)])
    nut_to_saddle = length + string["saddle_setback_mm"] + string["nut_setback_mm"]
    slope = rise / nut_to_saddle
    rise_from_crown = string["clearance_mm"] + slope * saddle[0]
    nut_along = nut_to_saddle - saddle[0]
    drop = string["clearance_mm"] - slope * nut_along
    sounding = np.sqrt(saddle[0] ** 2 + rise_from_crown**2)
    whole = sounding + np.sqrt(nut_along**2 + drop**2)
    open_string = np.sqrt(nut_to_saddle**2 + rise**2)
    thinner = 1.0 + string["stretch_share_ratio"] * (whole / open_string - 1.0)
    expected = CENTS_PER_NEPER * np.log(open_string / (RATIO * sounding) * np.sqrt(thinner))
    assert np.allclose(error_cents(**string), expected, rtol=0.0, atol=1e-8)


def test_a_perfect_board_without_a_string_is_in_tune():
    cents = error_cents(
        open_length_mm=648.0,
        fret_ratio=RATIO,
        clearance_mm=0.0,
        saddle_rise_mm=0.0,
        axial_ratio=0.0,
        stiffness_ratio=0.0,
    )
    assert np.abs(cents).max() < 1e-9


@given(strings())
def test_the_open_string_is_its_own_reference(string):
    opened = {**string, "fret_ratio": 1.0, "clearance_mm": 0.3}
    assert error_cents(**opened) == 0.0
    assert exact_error_cents(**{**opened, "clamped_ends": 1}) == 0.0
    slopes = error_slopes(**opened)
    assert all(np.all(getattr(slopes, name) == 0.0) for name in slopes.__dataclass_fields__)


@given(strings(), st.floats(0.2, 5.0))
def test_a_scaled_instrument_has_the_same_cents(string, factor):
    lengths = (
        "open_length_mm", "clearance_mm", "saddle_rise_mm", "saddle_setback_mm", "nut_setback_mm",
    )  # fmt: skip
    scaled = {**string, **{name: string[name] * factor for name in lengths}}
    assert np.allclose(error_cents(**scaled), error_cents(**string), rtol=0.0, atol=1e-8)


@given(strings())
def test_slopes_are_those_of_finite_differences(string):
    slopes = error_slopes(**string)
    by_name = {
        "clearance_mm": slopes.clearance_cents_per_mm,
        "saddle_setback_mm": slopes.saddle_setback_cents_per_mm,
        "nut_setback_mm": slopes.nut_setback_cents_per_mm,
        "saddle_rise_mm": slopes.saddle_rise_cents_per_mm,
    }
    step = 1e-3
    for name, slope in by_name.items():
        up, down = ({**string, name: string[name] + way * step} for way in (1, -1))
        difference = (error_cents(**up) - error_cents(**down)) / (2 * step)
        assert np.allclose(slope, difference, rtol=2e-5, atol=2e-5), name
    for name, slope in (
        ("axial_ratio", slopes.log_axial_cents),
        ("stiffness_ratio", slopes.log_stiffness_cents),
    ):
        up, down = ({**string, name: string[name] * np.exp(way * step)} for way in (1, -1))
        difference = (error_cents(**up) - error_cents(**down)) / (2 * step)
        assert np.allclose(slope, difference, rtol=2e-5, atol=2e-5), name
    tiny = 1e-7
    more = error_cents(**string, finger_stretch_ratio=tiny) - error_cents(
        **string, finger_stretch_ratio=-tiny
    )
    assert np.allclose(slopes.finger_stretch_cents, more / (2 * tiny), rtol=1e-4)


@given(strings())
def test_the_series_agrees_with_the_exact_roots(string):
    """They part at third order in the stiffness ratio: .01 cents for an ordinary low string at the 12th."""
    string = {**string, "clamped_ends": int(string["clamped_ends"])}
    difference = np.abs(exact_error_cents(**string) - error_cents(**string))
    cubic = SERIES_CUBIC[string["clamped_ends"]] * (1.02 * RATIO * string["stiffness_ratio"]) ** 3
    assert np.all(difference <= CENTS_PER_NEPER * cubic)


@given(strings())
def test_the_short_formula_is_the_first_order_of_the_whole_one(string):
    """Halving what is first order (heights go by the square) leaves a quarter of the difference, or less."""

    def left_out(part):
        small = {
            **string,
            "clearance_mm": string["clearance_mm"] * np.sqrt(part),
            "saddle_rise_mm": string["saddle_rise_mm"] * np.sqrt(part),
            "saddle_setback_mm": string["saddle_setback_mm"] * part,
            "nut_setback_mm": string["nut_setback_mm"] * part,
            "stiffness_ratio": string["stiffness_ratio"] * part,
        }
        return np.abs(error_cents(**small) - linear_error_cents(**small)).max()

    assert left_out(0.005) < left_out(0.01) / 3.5 + 1e-7


def test_the_short_formula_on_an_ordinary_instrument():
    """Within .4 cents up to the 12th fret of a 648 mm scale, every setback and stiffness in place."""
    frets = RATIO[:12]
    string = {
        "open_length_mm": 648.0,
        "fret_ratio": frets,
        "clearance_mm": 0.45 + 3.0 * (1.0 - 1.0 / frets),
        "saddle_rise_mm": 3.0,
        "axial_ratio": 400.0,
        "stiffness_ratio": 0.0035,
        "saddle_setback_mm": 4.0,
        "nut_setback_mm": -0.2,
    }
    assert np.abs(linear_error_cents(**string) - error_cents(**string)).max() < 0.4


@given(strings(), st.floats(0.5, 6.0))
def test_a_finger_further_back_stretches_more(string, behind):
    where = {
        name: string[name]
        for name in (
            "open_length_mm", "fret_ratio", "clearance_mm", "saddle_rise_mm",
            "saddle_setback_mm", "nut_setback_mm",
        )
    }  # fmt: skip
    near, far = (finger_stretch_ratio(**where, behind_mm=d) for d in (behind, 1.5 * behind))
    assert np.all(near > 0.0)
    assert np.all(far > near)
    assert np.abs(finger_stretch_ratio(**where, behind_mm=0.0)).max() < 1e-12


@settings(deadline=None)
@given(strings(), st.sampled_from([(0.05, 0.0), (-0.05, 0.0), (0.0, 0.02), (0.0, -0.02)]))
def test_best_setbacks_are_best(string, away):
    names = ("open_length_mm", "clearance_mm", "saddle_rise_mm", "axial_ratio", "stiffness_ratio")
    guitar = {**{name: string[name] for name in names}, "fret_ratio": RATIO}
    best = best_setbacks(**guitar)
    assume(best.nut_setback_mm > -2.0)
    worse = error_cents(
        **guitar,
        saddle_setback_mm=best.saddle_setback_mm + away[0],
        nut_setback_mm=best.nut_setback_mm + away[1],
    )
    assert np.sqrt(np.mean(worse**2)) > best.rms_cents


def test_strings_by_frets_broadcast_as_one_by_one():
    scale = np.array([[648.0], [660.0], [864.0]])
    clearance = 0.4 + 2.5 * (1.0 - 1.0 / RATIO[None, :])
    both = {
        "axial_ratio": np.array([[140.0], [250.0], [420.0]]),
        "stiffness_ratio": 0.002,
        "saddle_rise_mm": 2.5,
    }
    whole = error_cents(open_length_mm=scale, fret_ratio=RATIO, clearance_mm=clearance, **both)
    assert whole.shape == (3, 24)
    slopes = error_slopes(open_length_mm=scale, fret_ratio=RATIO, clearance_mm=clearance, **both)
    assert slopes.log_stiffness_cents.shape == (3, 24)
    one = error_cents(
        open_length_mm=660.0,
        fret_ratio=RATIO[6],
        clearance_mm=clearance[0, 6],
        axial_ratio=250.0,
        stiffness_ratio=0.002,
        saddle_rise_mm=2.5,
    )
    assert whole[1, 6] == pytest.approx(float(one), abs=1e-9)
