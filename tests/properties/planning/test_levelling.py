"""Levelling with the least metal: what it must come to on boards whose truth is made up here. All [derived]."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from breakangle.physics.neck.crown_shape import crown_radius_mm, flat_cents, flat_width_mm
from breakangle.planning.levelling.conditions import conditions_of
from breakangle.planning.levelling.heights import Heights
from breakangle.planning.levelling.plan import MARGIN_MM, Asked, Crowns, levelling_plan
from breakangle.planning.levelling.swings import swings_mm
from breakangle.planning.state.board import board_of
from breakangle.reference.families import family
from breakangle.reference.strength import playing
from breakangle.services.service_files.example import usual_instrument

KIND = "electric-guitar"
BOARD = board_of(usual_instrument(family(KIND), "one"))
SWING = swings_mm(BOARD, playing(KIND), "medium")
STRINGS, FRETS = BOARD.string_count, BOARD.fret_count
RELIEF = (0.2, 0.3)
NUT = np.full(STRINGS, 0.05)
METAL = Crowns(np.full((STRINGS, FRETS), 1.2), 2.4)
JOINT = BOARD.instrument.joint_fret


def heights(crowns_mm=0.0, action_mm=1.6, spread_mm=0.0) -> Heights:
    """A neck of even bend with 0.25 mm of relief, crowns as given, nut and action set."""
    crowns = np.broadcast_to(crowns_mm, (STRINGS, FRETS)).astype(float)
    u = np.minimum(BOARD.place_ratio, 1.0)
    bend = 4.0 * (1.0 - u) ** 2
    bend[:, -1] = 0.0
    height = 0.25 * bend
    height[:, 1:-1] += crowns
    one = Heights(
        BOARD.along_mm, height, bend, BOARD.first, JOINT, 0.25, spread_mm**2 * np.eye(STRINGS * FRETS)
    )
    last = np.full(STRINGS, FRETS + 1)
    saddle = (action_mm - one.action_mm()) / one.share(one.action_stop, one.action_crown, last)
    nut = (NUT - one.nut_mm()) / (1.0 - one.share(one.first, one.first + 1, one.nut_held))
    return one.set_up(0.25, nut, saddle)


def plan(one: Heights, action_mm=1.6, crowns=METAL, relief=RELIEF):
    return levelling_plan(one, SWING, Asked(np.broadcast_to(action_mm, STRINGS), NUT, relief), crowns)


NO_METAL = Crowns(np.full((STRINGS, FRETS), METAL.least_mm), 2.4)
HELD_RELIEF = (0.25, 0.25)


def lowest_action_mm() -> np.ndarray:
    """The lowest action of level crowns at 0.25 mm of relief, string by string: nothing may be filed, so it is told."""
    found = np.zeros(STRINGS)
    for string in range(STRINGS):
        asked = np.full(STRINGS, 3.0)
        asked[string] = 0.5
        found[string] = 0.5 + plan(heights(), asked, NO_METAL, HELD_RELIEF).over_mm
    return found


def left_mm(one: Heights) -> np.ndarray:
    """Gap less swing of every condition, straight from the heights: no unknowns of the programme in it."""
    told = conditions_of(one, SWING)
    return told.gap_mm - told.need_mm


def test_level_crowns_lose_nothing():
    told = plan(heights(0.0))
    assert told.verdict == "leave"
    assert told.metal_mm == 0.0
    assert told.frets == ()


def test_rows_are_the_derivatives_of_the_gaps():
    """Every unknown moved a little, the gaps reckoned anew from the heights."""
    one = heights(np.random.default_rng(3).normal(0.0, 0.02, (STRINGS, FRETS)))
    told = conditions_of(one, SWING)
    random = np.random.default_rng(4)
    off = random.uniform(0.0, 0.05, (STRINGS, FRETS))
    relief, nut, saddle = 0.04, random.normal(0.0, 0.1, STRINGS), random.normal(0.0, 0.1, STRINGS)
    moved = conditions_of(one.cut(off).set_up(one.relief_mm + relief, nut, saddle), SWING)
    by_rows = told.gap_mm + told.rows @ np.concatenate([off.ravel(), [relief], nut, saddle])
    assert np.max(np.abs(by_rows - moved.gap_mm)) < 1e-12


def test_errors_of_crowns_reach_gaps_through_nut_and_saddle_too():
    """A crown that is higher than believed, with action and nut clearance set to their figures all the same."""
    one, random = heights(0.0), np.random.default_rng(5)
    error = random.normal(0.0, 0.01, (STRINGS, FRETS))
    other = heights(error)
    told = conditions_of(one, SWING)
    expected = np.einsum("mf,mf->m", told.error_rows, error[told.string])
    assert np.max(np.abs(conditions_of(other, SWING).gap_mm - told.gap_mm - expected)) < 1e-12


def test_a_proud_crown_loses_what_it_stands_proud_and_nothing_else():
    """At the lowest set-up of level crowns, a crown that holds a string up stood 0.10 mm higher: 0.10 off, and no more.

    Under the strings that another crown holds up there is room under this one: there less comes off, never more.
    """
    action = lowest_action_mm() + 1e-4
    level = plan(heights(0.0, action), action, relief=HELD_RELIEF)
    assert level.metal_mm == 0.0
    slack = conditions_of(level.heights, SWING)
    left = slack.gap_mm - slack.need_mm - MARGIN_MM
    holding = {(int(slack.string[at]), int(slack.crown[at])) for at in np.flatnonzero(left < 1e-3)}
    for fret in {crown for _, crown in holding if crown > 1}:
        proud = np.zeros((STRINGS, FRETS))
        proud[:, fret - 1] = 0.10
        told = plan(heights(proud, action), action, relief=HELD_RELIEF)
        assert (told.verdict, told.frets) == ("spot-level", (fret,))
        held = [string for string, crown in holding if crown == fret]
        assert told.off_mm[held, fret - 1] == pytest.approx(0.10, abs=1.5e-3)
        assert told.off_mm[:, fret - 1].max() < 0.1015


@pytest.mark.parametrize("step_mm", [0.03, 0.08, 0.15])
def test_a_rising_tongue_is_cut_past_the_joint_and_nothing_below(step_mm):
    rise = np.maximum(np.arange(1, FRETS + 1) - JOINT, 0) * step_mm
    told = plan(heights(np.broadcast_to(rise, (STRINGS, FRETS))))
    assert told.off_mm[:, :JOINT].max() < 1e-9
    if step_mm >= 0.08:
        assert told.off_mm[:, JOINT:].max() > 0.05
    assert left_mm(told.heights).min() > 0.0


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 10**6), st.floats(1.45, 1.9))
def test_scattered_crowns_end_clean_with_no_more_metal_than_the_lowest_plane(seed, action_mm):
    error = np.random.default_rng(seed).normal(0.0, 0.03, (STRINGS, FRETS))
    told = plan(heights(error, action_mm), action_mm)
    assert told.over_mm == 0.0
    assert left_mm(told.heights).min() > MARGIN_MM - 1e-6
    assert told.heights.action_mm().max() <= action_mm + 1e-6
    assert RELIEF[0] - 1e-9 <= told.relief_mm <= RELIEF[1] + 1e-9
    assert told.metal_mm <= (error - error.min()).sum() + 1e-9


def test_no_metal_can_make_an_action_clean_that_level_crowns_cannot():
    told = plan(heights(0.0, 0.6), 0.6)
    assert told.verdict == "no-metal"
    assert told.over_mm > 0.1
    higher = 0.6 + told.over_mm
    again = plan(told.heights, higher + 1e-3)
    assert again.over_mm == 0.0
    assert left_mm(again.heights).min() > 0.0


def test_a_crown_with_no_metal_left_is_renewed_not_cut():
    low = METAL.height_mm.copy()
    low[:, 0:3] = 0.5
    few = plan(heights(0.0), crowns=Crowns(low, 2.4))
    assert (few.verdict, few.too_low) == ("partial-refret", (1, 2, 3))
    assert plan(heights(0.0), crowns=Crowns(np.full_like(low, 0.5), 2.4)).verdict == "refret"


def test_never_below_the_least_height():
    random = np.random.default_rng(8)
    thin = Crowns(np.full((STRINGS, FRETS), 0.62), 2.4)
    told = plan(heights(random.normal(0.0, 0.03, (STRINGS, FRETS)), 1.5), 1.5, crowns=thin)
    assert told.left_mm.min() >= thin.least_mm - 1e-9


def test_uncertain_crowns_cost_metal_and_say_which_to_read():
    random = np.random.default_rng(9)
    error = random.normal(0.0, 0.02, (STRINGS, FRETS))
    exact, read = plan(heights(error)), plan(heights(error, spread_mm=0.006))
    assert read.metal_mm > exact.metal_mm
    assert exact.chance.any_touch == 0.0
    poor = plan(heights(error, spread_mm=0.03))
    assert poor.chance.any_touch > 0.2
    assert poor.read_next is not None


def test_what_can_be_cut_again_is_counted_from_the_lowest_crown():
    proud = np.zeros((STRINGS, FRETS))
    proud[:, 6] = 0.2
    told = plan(heights(proud, 1.4), 1.4)
    lowest = (1.2 - told.off_mm).min()
    assert lowest - told.times_left * told.off_mm.max() >= 0.6 - 1e-9
    assert lowest - (told.times_left + 1) * told.off_mm.max() < 0.6


def test_flat_of_a_filed_crown():
    """A semicircle of radius 1: 0.2 off leaves a chord of 2 √(1 − 0.8²) = 1.2; on 300 mm that is 0.6/300 sharp."""
    assert crown_radius_mm(2.0, 1.0) == pytest.approx(1.0)
    assert flat_width_mm(0.2, 2.0, 1.0) == pytest.approx(1.2)
    assert flat_width_mm(0.0, 2.0, 1.0) == 0.0
    assert flat_cents(1.2, 300.0) == pytest.approx(1200.0 * np.log2(300.0 / 299.4))
    assert flat_cents(0.0, 300.0) == 0.0
