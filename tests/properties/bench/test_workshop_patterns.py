"""What is planted in the bench's instruments is as large as it says, measured by gaps; and what no hand could mend.

Expected values follow from the board's own places, derived beside each check.
"""

import numpy as np
import pytest

from bench.workshop import patterns
from bench.workshop.arrivals import blank, sound
from bench.workshop.instrument import WorkshopInstrument
from bench.workshop.reach import why_not
from bench.workshop.wanted import asked_for, figure_of, tolerance_of, wanted_of


def level(kind: str = "electric-guitar", seed: int = 1) -> WorkshopInstrument:
    """Return an instrument with crowns level and wood straight, so that what is planted stands alone."""
    one = blank(kind, seed)
    one.crown_mm[:] = 0.0
    return one


def test_a_twist_is_the_difference_of_relief_between_the_edges():
    one = level()
    before = one.relief_mm(one.count) - one.relief_mm(1)
    patterns.twist(one, 0.14)
    assert one.relief_mm(one.count) - one.relief_mm(1) - before == pytest.approx(0.14, abs=0.004)


def test_a_neck_tipped_forward_raises_the_action_by_its_angle():
    """With fret 1 held the string turns about fret 1 and the saddle: at fret x it clears tan(D) (s(x) - (J - x)) more.

    s(x) is the chord from (x1, J - x1) to (L, 0). Derived.
    """
    one = level()
    before = one.clearance_mm(1, 12, (1,))
    patterns.neck_angle(one, 0.2)
    x, length, joint = one.fret_x[0], one.scale_mm[0] + one.setback_mm[0], one.fret_x[0, one.joint]
    chord = (joint - x[1]) * (length - x[12]) / (length - x[1])
    expected = np.tan(np.radians(0.2)) * (chord - (joint - x[12]))
    assert expected > 0.0
    assert one.clearance_mm(1, 12, (1,)) - before == pytest.approx(expected, abs=1e-6)


def test_a_moved_top_raises_the_action_in_proportion():
    one = level()
    before = one.clearance_mm(1, 12, (1,))
    patterns.moved_top(one, -0.4)
    x, length = one.fret_x[0], one.scale_mm[0] + one.setback_mm[0]
    assert one.clearance_mm(1, 12, (1,)) - before == pytest.approx(
        -0.4 * (x[12] - x[1]) / (length - x[1]), abs=1e-6
    )


def test_a_rising_tongue_lifts_the_last_fret_by_its_size():
    one = level("steel-acoustic-guitar")
    before = one.clearance_mm(1, one.frets)
    patterns.rising_tongue(one, 0.3)
    assert before - one.clearance_mm(1, one.frets) == pytest.approx(0.3, abs=1e-6)


def test_a_hump_lifts_the_joint_by_its_size_and_nothing_a_hand_away():
    one = level("steel-acoustic-guitar")
    before = [one.clearance_mm(1, fret) for fret in (7, one.joint)]
    patterns.hump(one, 0.15)
    after = [one.clearance_mm(1, fret) for fret in (7, one.joint)]
    assert [a - b for a, b in zip(before, after, strict=True)] == pytest.approx([0.0, 0.15], abs=1e-6)


def test_worn_crowns_give_the_string_more_room_over_them():
    one = level()
    before = [one.clearance_mm(3, fret) for fret in (1, 2, 3, 4, 5, 6)]
    patterns.worn_first_position(one, 0.1)
    after = [one.clearance_mm(3, fret) for fret in (1, 2, 3, 4, 5, 6)]
    grown = [b - a for a, b in zip(before, after, strict=True)]
    assert grown == pytest.approx([0.09, 0.1, 0.085, 0.055, 0.035, 0.0], abs=1e-6)


def test_a_high_fret_takes_its_height_from_the_string_over_it():
    one = level()
    before = one.clearance_mm(2, 9)
    patterns.high_fret(one, 9, 0.06)
    assert before - one.clearance_mm(2, 9) == pytest.approx(0.06, abs=1e-6)


@pytest.mark.parametrize(("kind", "string"), [("electric-guitar", 3), ("banjo-five", 5)])
def test_a_low_slot_takes_its_size_from_the_first_clearance(kind, string):
    one = level(kind)
    first = one.first[string - 1]
    before = one.clearance_mm(string, first + 1, (first + 3,))
    patterns.low_slot(one, string, 0.05)
    assert before - one.clearance_mm(string, first + 1, (first + 3,)) == pytest.approx(0.05, abs=1e-6)


def test_a_moved_bridge_flattens_every_octave_alike():
    """A saddle drawn back by d lowers the octave by 1200/ln 2 · d/L cents, near enough (derived)."""
    one = level()
    before = [one.stopped_cents(string, 12) for string in range(1, 7)]
    patterns.moved_bridge(one, 1.5)
    fall = [a - one.stopped_cents(string, 12) for string, a in enumerate(before, 1)]
    assert fall == pytest.approx([1200 / np.log(2) * 1.5 / 648.0] * 6, rel=0.05)


@pytest.mark.parametrize("kind", ["electric-guitar", "steel-acoustic-guitar", "mandolin", "banjo-five"])
def test_a_sound_instrument_needs_no_hand(kind):
    assert why_not(sound(kind, 2)) is None


def test_a_slot_too_deep_is_past_any_file():
    one = sound("electric-guitar", 2)
    one.nut_mm[2] -= 0.3
    assert why_not(one) == "a nut slot cut too deep"


def test_a_low_saddle_cut_by_hand_is_past_any_file_and_a_low_screw_is_not():
    for kind, reason in (
        ("steel-acoustic-guitar", "a saddle too low, which no file raises"),
        ("electric-guitar", None),
    ):
        one = sound(kind, 2)
        one.saddle_mm = one.saddle_mm - 0.8
        assert why_not(one) == reason


def test_a_twist_past_both_tolerances_is_past_the_rod():
    one = sound("electric-guitar", 2)
    patterns.twist(one, 0.30)
    assert why_not(one) == "relief past what the rod can do"


def test_tolerances_are_those_of_the_bench():
    one = blank("steel-acoustic-guitar", 0)
    found = {figure_of(target): tolerance_of(target) for target in wanted_of(one)}
    assert found == {"relief": 0.06, "action": 0.10, "nut": 0.04, "intonation": 2.0}
    wide = {tolerance_of(t, wide=True) for t in wanted_of(one) if figure_of(t) == "intonation"}
    assert wide == {5.0}
    assert asked_for(wanted_of(one)[0]) == 0.20
