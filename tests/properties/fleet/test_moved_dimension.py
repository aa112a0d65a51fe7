"""The dimension of a design that moved is named from figures alone, read off instruments of another make of physics."""

import numpy as np
import pytest

from bench._instruments import arrival
from breakangle.fleet.dimension import dimension_of, steps_since
from breakangle.fleet.drift import drifts_of
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.kinds.targets.gap import GapTarget, trade_name
from breakangle.planning.state.board import board_of
from breakangle.planning.state.uncertain_value import Known
from breakangle.services.design.moved_dimension import moved_dimensions
from breakangle.services.design.wishes import Wishes, designed_service

DESIGN = designed_service(Wishes("electric-guitar", "Built to it"))
COUNT, BEGAN = 60, 40


def line(saddle_mm: float = 0.0, floor_mm: float = 0.0, relief_mm: float = 0.0, setback_mm: float = 0.0):
    """Return figures of a line read off `bench/_instruments.py`, whose parts move from one instrument on."""
    rng, found = np.random.default_rng(3), []
    one = arrival("electric-guitar", 5)
    targets = targets_of(DESIGN, board_of(DESIGN.instrument)).wanted
    for n in range(COUNT):
        moved = float(n >= BEGAN)
        one.set_relief(0.3 + rng.normal(0, 0.01))
        one.set_ends(np.full(6, 0.05) + rng.normal(0, 0.004), np.full(6, 1.5) + rng.normal(0, 0.015))
        one.set_intonation(rng.normal(0, 0.3, 6))
        one.saddle_mm = one.saddle_mm + moved * saddle_mm
        one.nut_mm = one.nut_mm + moved * floor_mm
        one.bow_mm = one.bow_mm + moved * relief_mm * one.load_mm
        one.setback_mm = one.setback_mm + moved * setback_mm
        for each in targets:
            if isinstance(each, GapTarget):
                name, unit = trade_name(each), "mm"
                value, wanted = one.gap_mm(each.string, each.fret, each.held), each.mm
            else:
                name, unit = "intonation", "cents"
                value, wanted = one.stopped_cents(each.string, 12), 0.0
            found.append({"item": f"{n:03d}", "figure": name, "value": value, "wanted": wanted, "unit": unit})
    return drifts_of(found)


@pytest.mark.parametrize(
    ("moves", "group", "amount"),
    [
        ({"saddle_mm": 0.2}, {"bridge_mm", "saddle_mm", "board_mm", "crown_mm", "angle_degrees"}, None),
        ({"floor_mm": 0.04}, {"floor_mm"}, 0.04),
        ({"relief_mm": 0.12}, {"relief_mm"}, None),
        ({"setback_mm": 0.8}, {"reach_mm"}, 0.8),
    ],
)
def test_the_dimension_that_moved_is_named_with_its_likes_and_no_other(moves, group, amount):
    found = dimension_of(line(**moves), DESIGN)
    assert found is not None
    assert sum(one.chance for one in found.moved if one.dimension in group) > 0.95
    if amount is not None:
        assert found.moved[0].amount.value == pytest.approx(amount, rel=0.25)
    if "saddle_mm" in moves:
        by = {one.dimension: one.amount.value for one in found.moved}
        assert by["bridge_mm"] == pytest.approx(0.2, rel=0.25)


def test_a_line_that_is_steady_names_nothing():
    drifts = line()
    assert steps_since(drifts) == {}
    assert dimension_of(drifts, DESIGN) is None


def test_steps_that_no_single_dimension_makes_are_said_to_be_so():
    """Derived: action far up and nut clearance far down together: no one dimension moves both so."""
    steps = {"action": Known(0.5, 0.01), "nut clearance": Known(-0.2, 0.01), "relief": Known(0.0, 0.01)}
    assert not moved_dimensions(DESIGN, steps).explains
