"""The floating bridge, against a bridge that is turned until its moments balance; and slots, against circles."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from breakangle.physics.bridge.floating_bridge import (
    claw_travel_mm,
    saddle_forward_mm,
    saddle_rise_mm,
    spring_force_n,
)
from breakangle.physics.string.nut_slot import perched_mm, wedged_mm
from breakangle.planning.state.floating_bridge import FloatingBridge, floating_balance
from breakangle.planning.state.uncertain_value import Known

ARMS = st.fixed_dictionaries(
    {"string_arm": st.floats(5.0, 14.0), "spring_arm": st.floats(30.0, 45.0), "back": st.floats(0.0, 20.0)}
)


def turned(arms: dict[str, float], pull: float, change: float, rate: float) -> float:
    """Tilt in radians at which the moments balance, the strings' pull held by tuning: bisection."""
    force = pull * arms["string_arm"] / arms["spring_arm"]
    low, high = -0.3, 0.3
    for _ in range(80):
        tilt = (low + high) / 2.0
        springs = (force + rate * arms["spring_arm"] * np.sin(tilt)) * arms["spring_arm"]
        if springs < (pull + change) * arms["string_arm"]:
            low = tilt
        else:
            high = tilt
    return (low + high) / 2.0


@given(ARMS, st.floats(200.0, 700.0), st.floats(-60.0, 60.0), st.floats(3.0, 12.0))
def test_the_bridge_turns_until_it_balances(arms, pull, change, rate):
    tilt = turned(arms, pull, change, rate)
    assume(abs(tilt) < 0.1)
    force = spring_force_n(
        string_pull_n=change, string_arm_mm=arms["string_arm"], spring_arm_mm=arms["spring_arm"]
    )
    travel = claw_travel_mm(force_change_n=force, spring_rate_n_per_mm=rate)
    rise = saddle_rise_mm(
        claw_travel_mm=travel, spring_arm_mm=arms["spring_arm"], saddle_back_mm=arms["back"]
    )
    forward = saddle_forward_mm(
        claw_travel_mm=travel, spring_arm_mm=arms["spring_arm"], string_arm_mm=arms["string_arm"]
    )
    assert rise == pytest.approx(arms["back"] * tilt, abs=0.006 * abs(tilt) * 20.0 + 1e-9)
    assert forward == pytest.approx(arms["string_arm"] * tilt, abs=0.006 * abs(tilt) * 20.0 + 1e-9)


def test_balance_by_hand():
    """Derived by hand: 460 N at 10 mm over 40 mm is 115 N; 60 N more is 15 N, over 3 x 2 N/mm 2.5 mm of claw;
    left alone the bridge tilts 2.5/40, and saddles 16 mm back rise 1.0 mm."""
    told = FloatingBridge(
        Known(10.0, 0.0), Known(40.0, 0.0), Known(16.0, 0.0), 3, Known(2.0, 0.0)
    )  # fmt: skip
    found = floating_balance(Known(460.0, 0.0), Known(520.0, 0.0), Known(60.0, 0.0), told)
    assert found.force_before_n.value == pytest.approx(115.0)
    assert found.force_after_n.value == pytest.approx(130.0)
    assert found.claw_travel_mm.value == pytest.approx(2.5)
    assert found.rise_if_left_mm.value == pytest.approx(1.0)
    assert found.assumed == ()
    assert found.claw_travel_mm.uncertainty == pytest.approx(0.0, abs=1e-9)
    assert found.forward_if_left_mm.value == pytest.approx(0.625)


def test_what_is_not_told_is_assumed_aloud_and_doubted():
    found = floating_balance(Known(460.0, 10.0), Known(520.0, 12.0), Known(60.0, 15.0), FloatingBridge())
    assert len(found.assumed) == 5
    assert found.claw_travel_mm.uncertainty > 0.3 * found.claw_travel_mm.value
    known = FloatingBridge(spring_rate_n_per_mm=Known(1.9, 0.02))
    sharper = floating_balance(Known(460.0, 10.0), Known(520.0, 12.0), Known(60.0, 15.0), known)
    assert sharper.claw_travel_mm.uncertainty < found.claw_travel_mm.uncertainty


@given(st.floats(0.2, 2.0), st.floats(1.001, 1.6), st.floats(0.5, 1.2))
def test_a_thick_string_rests_on_the_edges_of_its_slot(width, thicker, deep):
    """Lowered step by step until the circle touches an edge or the bottom."""
    string, depth = width * thicker, max(deep * width, width / 2.0)
    heights = np.linspace(0.0, depth + string, 40_001)
    radius = string / 2.0
    centre = heights + radius
    edge = np.hypot(width / 2.0, centre - depth)
    free = edge >= radius
    # Below the edges' level the walls hold it off as soon as it is wider than the slot.
    lowest = heights[free & (centre >= depth)].min()
    found = float(perched_mm(string_diameter_mm=string, slot_width_mm=width, slot_depth_mm=depth))
    assert found == pytest.approx(lowest, abs=2.0 * (heights[1] - heights[0]))


@given(st.floats(0.2, 2.0), st.floats(0.1, 0.99), st.floats(0.3, 2.0))
def test_a_string_that_goes_in_lies_on_the_bottom(width, thinner, depth):
    assert perched_mm(string_diameter_mm=width * thinner, slot_width_mm=width, slot_depth_mm=depth) == 0.0


@given(st.floats(0.2, 2.0), st.floats(0.2, 2.0), st.floats(30.0, 120.0))
def test_a_v_holds_a_thicker_string_higher(string, former, angle):
    """The underside of a circle of radius R lies R (1/sin - 1) above the point: two of them, subtracted."""
    lift = 1.0 / np.sin(np.radians(angle / 2.0)) - 1.0
    found = wedged_mm(string_diameter_mm=string, former_diameter_mm=former, slot_angle_degrees=angle)
    assert found == pytest.approx(string / 2.0 * lift - former / 2.0 * lift, abs=1e-12)
    assert (found > 0.0) == (string > former) or string == former
