"""Handbook values of making: fret distances as a maker's handbook prints them, and limits that are exact."""

import numpy as np
import pytest

from breakangle.documents.true_size.geometry import Line
from breakangle.documents.true_size.registry import template_kind
from breakangle.physics.making.neck_angle import break_angle_degrees, neck_angle_degrees, wedge_mm
from breakangle.physics.making.refret import wire_length_mm
from breakangle.physics.making.top import bridge_lean_degrees, dome_radius_mm
from breakangle.physics.making.wiring import together_kohm
from breakangle.physics.neck.gaps import fret_positions_mm
from breakangle.reference.families import family
from breakangle.services.service_files.example import empty_service

# M. Koch, Building Electric Guitars, "Calculating fret distances", with its example of 650 mm: fret 1 at 36.48 mm, then
# 34.43 mm on to fret 2, fret 12 at half the scale; of 25.5 in: 1.431 in, 1.351 in on, 2.782 in from the nut.
FIRST_MM, ON_MM, SCALE_MM = 36.48, 34.43, 650.0
FIRST_IN, ON_IN, SECOND_IN, SCALE_IN = 1.431, 1.351, 2.782, 25.5


def test_fret_slots_lie_where_the_handbook_prints_them():
    """The handbook rounds to a hundredth of a mm and to a thousandth of an inch."""
    mm = fret_positions_mm(SCALE_MM, 12)
    assert mm[1] == pytest.approx(FIRST_MM, abs=0.0051)
    assert mm[2] - mm[1] == pytest.approx(ON_MM, abs=0.0101)
    assert mm[12] == pytest.approx(SCALE_MM / 2.0, abs=1e-9)
    inches = fret_positions_mm(SCALE_IN * 25.4, 2) / 25.4
    assert inches[1:] == pytest.approx([FIRST_IN, SECOND_IN], abs=6e-4)
    assert inches[2] - inches[1] == pytest.approx(ON_IN, abs=6e-4)


def test_the_template_draws_them_there():
    service = empty_service(family("nylon-acoustic-guitar"), "one")
    of_650 = service.instrument.model_copy(update={"scale_mm": SCALE_MM})
    drawing = template_kind("fret-positions").drawing(service.model_copy(update={"instrument": of_650}), {})
    across = [
        one for one in drawing.parts if isinstance(one, Line) and abs(one.start_mm[0] - one.end_mm[0]) < 1e-9
    ]
    start = min(one.start_mm[0] for one in across)
    places = np.array([one.start_mm[0] - start for one in across])
    for wanted in (FIRST_MM, FIRST_MM + ON_MM, SCALE_MM / 2.0):
        assert np.abs(places - wanted).min() < 0.016, "what the handbook rounds, twice, and half a hundredth"


def test_a_flat_board_no_angle_and_no_tongue_are_exact_limits():
    """[derived] Nothing turned, nothing off; a flat board's wire is its width; a flat top has no radius; one coil."""
    assert (
        neck_angle_degrees(
            bridge_mm=9.0, airspace_mm=-2.0, board_mm=6.0, fret_mm=1.0, joint_to_saddle_mm=290.0
        )
        == 0.0
    )
    assert wedge_mm(0.0, 90.0) == 0.0
    assert wire_length_mm(52.0, np.inf, 0.0) == 52.0
    assert dome_radius_mm(0.0, 400.0) == np.inf
    assert bridge_lean_degrees(0.0, 0.0, 100.0) == 0.0
    assert together_kohm([7.0]) == pytest.approx(7.0, abs=1e-12)


def test_a_wedge_is_that_of_similar_triangles():
    """[derived] Saddle to come up by 2 mm over 290 mm of body, heel 90 mm: 2 · 90/290 off the cap."""
    turn = np.degrees(np.arctan(2.0 / 290.0))
    assert wedge_mm(turn, 90.0) == pytest.approx(2.0 * 90.0 / 290.0, rel=1e-9)


def test_a_dome_of_the_trade_rises_as_its_chord_says():
    """[derived] 28 ft over 400 mm: R − √(R² − 200²) by hand with R = 8534.4 mm is 2.344 mm."""
    assert 8534.4 - np.sqrt(8534.4**2 - 200.0**2) == pytest.approx(2.3438, abs=1e-3)
    assert dome_radius_mm(8534.4 - np.sqrt(8534.4**2 - 200.0**2), 400.0) == pytest.approx(8534.4, rel=1e-6)


def test_a_wedge_and_a_break_angle_are_similar_triangles():
    """[derived] No printed example was found. 3 mm of lift over 290 mm is 0.931 mm over a heel 90 mm deep."""
    before, after = (
        float(
            neck_angle_degrees(
                bridge_mm=9.5, airspace_mm=airspace, board_mm=6.0, fret_mm=1.0, joint_to_saddle_mm=290.0
            )
        )
        for airspace in (-2.5, 0.5)
    )
    assert wedge_mm(after, 90.0) - wedge_mm(before, 90.0) == pytest.approx(90.0 * 3.0 / 290.0, rel=1e-9)
    assert break_angle_degrees(4.0, 8.0) == pytest.approx(np.degrees(np.arctan(0.5)), rel=1e-12)
    assert break_angle_degrees(4.0, 8.0, 4.0) == pytest.approx(45.0, rel=1e-12)
    assert break_angle_degrees(0.0, 8.0) == 0.0, "a string that lies level does not break"
