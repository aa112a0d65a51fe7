"""Winds, against a string wound step by step round a post; slack and winds undo each other; what fits fits."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from breakangle.physics.string.winding import (
    slack_mm,
    stretch_to_pitch_mm,
    winds_from_slack_count,
    winds_height_mm,
    wound_length_mm,
)
from breakangle.services.strings.winding import wind

POST, STRING = st.floats(3.0, 14.0), st.floats(0.2, 2.7)
FAR_MM = 50_000.0


def wound_by_turning(winds: float, post_mm: float, string_mm: float) -> float:
    """Length taken up when a post is turned: from the string lying straight into the hole to tangent and arc."""
    r = (post_mm + string_mm) / 2.0
    angle = 2.0 * np.pi * winds
    straight_before = FAR_MM - r
    tangent = np.sqrt(FAR_MM**2 - r**2)
    # The tangent point lies a quarter turn, less the angle under which the post is seen, from the hole's side.
    touches_at = np.arccos(r / FAR_MM)
    return float(tangent + r * (angle - touches_at) - straight_before)


@given(st.floats(0.5, 6.0), POST, STRING)
def test_a_post_takes_up_what_turning_it_takes_up(winds, post, string):
    """The helix of neat winds adds sqrt(1 + (d / 2 pi r)^2) to each: less than 1 % for real strings."""
    assume(string < post / 4.0)
    found = float(wound_length_mm(winds_count=winds, post_diameter_mm=post, string_diameter_mm=string))
    assert found == pytest.approx(wound_by_turning(winds, post, string), rel=0.01, abs=0.05)
    assert found >= wound_by_turning(winds, post, string) - 1e-3 * post


@given(st.floats(0.3, 8.0), POST, STRING, st.floats(0.0, 5.0))
def test_slack_and_winds_undo_each_other(winds, post, string, stretch):
    same = {"post_diameter_mm": post, "string_diameter_mm": string, "stretch_mm": stretch}
    slack = slack_mm(winds_count=winds, **same)
    assume(float(slack) + stretch > 1e-6)
    assert winds_from_slack_count(slack_mm=slack, **same) == pytest.approx(winds)


@given(st.floats(0.5, 8.0), st.floats(0.1, 2.0), POST, STRING)
def test_more_winds_need_more_slack_and_more_post(winds, more, post, string):
    same = {"post_diameter_mm": post, "string_diameter_mm": string, "stretch_mm": 0.0}
    assert slack_mm(winds_count=winds + more, **same) > slack_mm(winds_count=winds, **same)
    assert winds_height_mm(winds_count=winds + more, string_diameter_mm=string) > winds_height_mm(
        winds_count=winds, string_diameter_mm=string
    )


def test_stretch_to_pitch_is_hookes_law():
    """Derived by hand: 72.4 N on 10134 N over 768 mm is 5.487 mm."""
    found = stretch_to_pitch_mm(free_length_mm=768.0, tension_n=72.406, axial_stiffness_n=10134.1)
    assert found == pytest.approx(5.487, abs=0.001)


@given(st.floats(0.5, 10.0), STRING, POST, st.floats(1.0, 20.0))
def test_it_fits_as_long_as_there_are_no_more_than_the_most(winds, string, post, room):
    found = wind(string, winds, post_diameter_mm=post, room_mm=room)
    assert found.winds == pytest.approx(winds) or found.slack_mm == 0.0
    assert found.fits == (found.winds <= found.most_winds + 1e-9 or found.winds == 0.0)
    assert found.fits != any("climb over each other" in one for one in found.sentences)


def test_locking_and_slotted_posts_and_the_spare_end():
    locking = wind(0.254, kind="locking", stretch_mm=5.5)
    assert locking.slack_mm == 0.0
    assert 0.2 < locking.winds < 1.0
    slotted = wind(0.254, 3.0, kind="slotted")
    assert slotted.mark_past_mm == pytest.approx(slotted.slack_mm + 12.0)
    assert slotted.cut_past_mm is None
    plain = wind(0.254, 3.0)
    assert plain.cut_past_mm == pytest.approx(plain.mark_past_mm + 25.0)
    assert any("25.0 mm of spare end" in one for one in plain.sentences)
    assert wind(0.254, 3.0, post_spacing_mm=26.0).posts_past == pytest.approx(plain.mark_past_mm / 26.0)
