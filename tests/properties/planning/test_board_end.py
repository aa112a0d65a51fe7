"""A board's end that nobody read may have risen: what that makes of notes over it, and what takes the doubt away."""

from dataclasses import replace

import numpy as np
import pytest

from breakangle.model.service import Service
from breakangle.physics.neck.bend import bending_shapes
from breakangle.planning.buzz.buzz_map import buzz_map
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.kinds.prior import SHAPE_RATIO
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.state.board import board_of
from breakangle.planning.state.board_end import RISE_MET_WITH, end_rise
from breakangle.reference.families import families
from breakangle.reference.strength import playing
from contact_setups import service
from planning_cases import ordinary

FIRST_FRET_RATIO = 0.07  # of the way to the joint, about where the first fret stands


def chances(asked: Service, known: bool = False) -> dict[tuple[int, int], float]:
    """Return how likely each note is to touch at medium strength; `known`: as if the end had been read."""
    now = estimate(asked).for_chances
    belief = replace(now.belief, end_read=known or now.belief.end_read)
    found = buzz_map(now.picture, belief, playing(asked.instrument.kind), ("medium",), threads=1)
    return {(one.string, one.stop): one.probability for one in found.notes}


def test_crown_readings_do_not_tell_of_the_boards_end():
    """A short straight-edge lies still on a smooth rise, so that notes near the end keep some chance to touch."""
    asked = service(low_mm=1.8, high_mm=1.55, relief_mm=0.25)
    open_end, known = chances(asked), chances(asked, known=True)
    joint = asked.instrument.joint_fret
    over = [key for key in known if key[1] >= joint and known[key] < 0.002]
    assert len(over) > 12
    gained = np.array([open_end[key] - known[key] for key in over])
    assert gained.max() > 0.02
    assert gained.max() <= RISE_MET_WITH + 0.01
    assert all(open_end[key] >= known[key] - 0.03 for key in known)


def test_gaps_read_over_the_end_take_the_doubt_away():
    asked = service(low_mm=1.8, high_mm=1.55, relief_mm=0.25)
    last = asked.instrument.frets
    now = estimate(asked)
    assert not now.belief.end_read
    picture = now.picture
    each = np.arange(6)
    gap = picture.gaps_at(each, np.full(6, last), np.full(6, 1), np.full(6, last + 1)).gap_mm
    read = tuple(
        Gap(string=int(n) + 1, fret=last, held=(1,), mm=round(float(gap[n]), 3), uncertainty_mm=0.02)
        for n in each
    )
    after = asked.model_copy(update={"readings": (*asked.readings, *read)})
    assert estimate(after).belief.end_read
    assert max(chances(after)[key] for key in [(6, last - 1), (1, last - 1)]) < 0.02


@pytest.mark.parametrize("kind", families())
def test_an_end_rises_from_the_joint_on_and_most_at_the_last_fret(kind):
    rise = end_rise(board_of(ordinary(kind)))
    if rise is None:
        assert ordinary(kind).frets - ordinary(kind).joint_fret < 3
        return
    joint = ordinary(kind).joint_fret
    assert np.all(rise[:joint] == 0.0)
    assert np.all(np.diff(rise[joint - 1 :]) > 0.0)
    assert rise[-1] == pytest.approx(1.0)


def test_a_neck_is_expected_to_bend_as_one_with_a_stiff_heel():
    """Derived: 18 % thicker at the heel, which is three times as stiff over the last tenth; fitted over the frets."""
    u = np.linspace(0.0, 1.0, 2001)
    stiffness = (1.0 + 0.18 * u) ** 3 * (1.0 + 2.0 / (1.0 + np.exp(-(u - 0.915) / 0.02)))
    from_heel = (1.0 / stiffness)[::-1]
    slope = np.concatenate([[0.0], np.cumsum(from_heel[1:] + from_heel[:-1])])
    height = np.concatenate([[0.0], np.cumsum(slope[1:] + slope[:-1])])[::-1]
    frets = u >= FIRST_FRET_RATIO
    shapes, height = bending_shapes(u)[:, frets], height[frets]
    found = np.linalg.lstsq(shapes.T, height, rcond=None)[0]
    assert found / found[0] == pytest.approx(SHAPE_RATIO, abs=0.03)
    assert np.linalg.norm(height - found @ shapes) < 0.01 * np.linalg.norm(height)


def test_crowns_that_read_level_leave_action_over_the_end_as_open_as_patterns_make_it():
    """What is told past the joint is wider than without patterns; over the 12th, where action was read, it is not."""
    now = estimate(service(kind="steel-acoustic-guitar", low_mm=2.4, high_mm=1.9, relief_mm=0.25))
    rows = [
        now.picture.gap_rows(np.array([5]), np.array([fret]), np.array([1]), np.array([21]))
        for fret in (12, 20)
    ]
    told = [float(now.stated.belief.spread(row)[0]) for row in rows]
    apart = [float(now.for_chances.belief.spread(row)[0]) for row in rows]
    assert told[0] == pytest.approx(apart[0], rel=0.05)
    assert told[1] > 1.2 * apart[1]
