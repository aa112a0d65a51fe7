"""Laws of making: neck angle, nut, refret and bridge against turned points and drawn lines. [derived] unless said."""

import cmath

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from breakangle.physics.making.bridge_place import corner_distances_mm
from breakangle.physics.making.neck_angle import (
    airspace_wanted_mm,
    break_angle_degrees,
    neck_angle_degrees,
    scale_change_mm,
    string_over_frets_mm,
    tongue_gap_mm,
    wedge_mm,
)
from breakangle.physics.making.nut import blank_height_mm, floor_over_crowns_mm
from breakangle.physics.making.refret import back_bow_mm, wire_length_mm

DEGREES = st.floats(-4.0, 4.0)


def test_an_even_line_of_frets_over_the_bridge_has_no_angle():
    """Bridge and airspace as high as board and fret: the limit is exact."""
    told = neck_angle_degrees(
        bridge_mm=6.0, airspace_mm=1.0, board_mm=6.0, fret_mm=1.0, joint_to_saddle_mm=300.0
    )
    assert told == 0.0
    assert wedge_mm(0.0, 90.0) == 0.0
    assert tongue_gap_mm(0.0, 70.0) == 0.0
    assert scale_change_mm(0.0, over_joint_mm=7.0, nut_to_joint_mm=350.0) == 0.0


def test_the_airspace_of_a_steel_string_guitar_leans_its_neck_back_by_half_a_degree_or_so():
    """Bridge 3/8 in, airspace 1/64 to 1/16 in (Cumpiano and Natelson, Guitarmaking, as quoted on a secondary page).

    With a board of 1/4 in, crowns of 1 mm (from memory) and 648 mm scale the law gives 0.51° to 0.75° by hand:
    (9.525 + 0.397 − 7.35)/288.7 and (9.525 + 1.588 − 7.35)/288.7.
    """
    joint_to_saddle = 648.0 * 2.0 ** (-14.0 / 12.0)
    found = neck_angle_degrees(
        bridge_mm=9.525, airspace_mm=np.array([25.4 / 64.0, 25.4 / 16.0]), board_mm=6.35, fret_mm=1.0,
        joint_to_saddle_mm=joint_to_saddle,
    )  # fmt: skip
    assert joint_to_saddle == pytest.approx(288.66, abs=0.02)
    assert found == pytest.approx([0.5105, 0.7469], abs=5e-4)


@given(DEGREES, st.floats(5.0, 12.0), st.floats(200.0, 330.0))
def test_airspace_is_the_angle_read_backward(degrees, bridge, away):
    air = (
        away * np.tan(np.radians(degrees)) + 6.0 + 1.0 - bridge
    )  # the line of frets over the bridge [derived]
    told = neck_angle_degrees(
        bridge_mm=bridge, airspace_mm=air, board_mm=6.0, fret_mm=1.0, joint_to_saddle_mm=away
    )
    assert told == pytest.approx(degrees, abs=1e-9)


@given(st.floats(0.0, 4.0), st.floats(200.0, 400.0), st.floats(0.0, 12.0))
def test_scale_change_is_that_of_a_turned_point(degrees, nut_to_joint, over):
    """The nut at (−x, h) turned about the joint as a complex number."""
    turned = complex(-nut_to_joint, over) * cmath.exp(1j * np.radians(degrees))
    told = scale_change_mm(degrees, over_joint_mm=over, nut_to_joint_mm=nut_to_joint)
    assert told == pytest.approx(-nut_to_joint - turned.real, abs=1e-9)


@given(st.floats(0.05, 3.0), st.floats(60.0, 110.0), st.floats(40.0, 100.0))
def test_wedge_and_tongue_turn_as_one_piece(degrees, heel, tongue):
    assert wedge_mm(degrees, heel) / heel == pytest.approx(float(tongue_gap_mm(degrees, tongue)) / tongue)
    assert wedge_mm(-degrees, heel) == pytest.approx(-wedge_mm(degrees, heel))


@given(st.floats(1.0, 3.5), st.floats(0.0, 0.6))
def test_a_saddle_for_an_action_gives_that_action(action, nut):
    over = string_over_frets_mm(action_mm=action, nut_mm=nut, action_share=0.5)
    assert 0.5 * nut + 0.5 * float(over) == pytest.approx(action)
    assert airspace_wanted_mm(3.5, over) + over == pytest.approx(3.5)


def test_break_angle():
    assert break_angle_degrees(3.0, 3.0) == pytest.approx(45.0)
    assert break_angle_degrees(0.0, 8.0) == 0.0


def test_a_slot_floor_gives_the_clearance_it_was_reckoned_for():
    """From the floor straight to the third crown: over the first there is what was asked."""
    first, third = (648.0 * (1.0 - 2.0 ** (-n / 12.0)) for n in (1, 3))
    floor = float(floor_over_crowns_mm(clearance_mm=0.05, first_mm=first, held_mm=third))
    assert floor * (1.0 - first / third) == pytest.approx(0.05)
    assert floor_over_crowns_mm(clearance_mm=0.0, first_mm=first, held_mm=third) == 0.0
    assert blank_height_mm(1.4, 1.0, 0.5) == pytest.approx(1.9)


def test_wire_over_a_flat_board_is_as_long_as_the_board_is_wide():
    assert wire_length_mm(50.0, np.inf, 3.0) == 56.0
    assert wire_length_mm(50.0, 1e9, 3.0) == pytest.approx(56.0)
    assert wire_length_mm(2.0 * 300.0 * np.sin(0.1), 300.0, 0.0) == pytest.approx(60.0)


def test_tangs_no_wider_than_their_slots_bend_nothing():
    known = {"frets": 20, "taken_ratio": 0.3, "length_mm": 450.0, "arm_ratio": 0.5, "depth_mm": 21.0}
    assert back_bow_mm(tang_mm=0.5, slot_mm=0.55, **known) == 0.0
    once, twice = (float(back_bow_mm(tang_mm=0.5 + mm, slot_mm=0.5, **known)) for mm in (0.02, 0.04))
    assert twice == pytest.approx(2.0 * once)
    assert once == pytest.approx(0.5 * (20 * 0.3 * 0.02 / 450.0) / 21.0 * 450.0**2 / 8.0)


@given(st.floats(0.0, 8.0), st.floats(0.0, 8.0))
def test_the_corners_of_a_bridge_lie_where_they_are_drawn(bass, treble):
    """Points drawn in the plane, distances by the computer's own norm; crossed lines agree when it stands square."""
    told = corner_distances_mm(
        scale_mm=648.0,
        setback_bass_mm=bass,
        setback_treble_mm=treble,
        width_at_12_mm=52.0,
        width_at_saddle_mm=60.0,
    )
    fret = {"b": complex(0.0, -26.0), "t": complex(0.0, 26.0)}
    saddle = {"b": complex(324.0 + bass, -30.0), "t": complex(324.0 + treble, 30.0)}
    drawn = [abs(saddle[end] - fret[start]) for start, end in ("bb", "tt", "bt", "tb")]
    assert list(map(float, told)) == pytest.approx(drawn)
    assert (abs(told[2] - told[3]) < 1e-9) == (abs(bass - treble) < 1e-9)
