"""A cut counts on a rod for no more than the rod surely does: what it takes too much stays off."""

import numpy as np
import pytest

from breakangle.planning.kinds.kind import Lever
from breakangle.planning.solve.margins import Edges
from breakangle.planning.solve.programme.problem import Floors, Problem
from breakangle.planning.solve.programme.solver import settle

SPARE_MM = 0.12  # 0.10 too high, and 0.02 below what is wanted is allowed


def _lever(name: str, low: float, high: float, doubtful: bool) -> Lever:
    return Lever(
        name, 1, "mm", np.zeros(1), low, high, 0.0, 1.0, 0.25, made=lambda amount: (), doubtful=doubtful
    )


def _problem(doubt_mm_per_turn: float) -> Problem:
    """Return a neck 0.2 mm too straight under an action 0.1 mm too high, whose rod lifts both 0.4 mm per turn."""
    levers = (_lever("rod", -1.0, 1.0, doubtful=True), _lever("saddle", -2.0, 0.0, doubtful=False))
    own = np.array([[True, False], [False, True]])
    tolerance = np.array([0.05, 0.1])
    return Problem(
        levers=levers,
        off=np.array([-0.2, 0.1]),
        per_unit=np.array([[0.4, 0.0], [0.4, 1.0]]),
        tolerance=tolerance,
        spread=np.full(2, 0.01),
        doubt=np.array([[0.0, 0.0], [doubt_mm_per_turn, 0.0]]),
        keep=np.ones(2),
        edges=Edges(tolerance, tolerance, np.array([0.05, 0.02]), own, own),
        floors=Floors(np.zeros(0), np.zeros((0, 2))),
    )


@pytest.mark.parametrize("doubt_mm_per_turn", [0.0, 0.1, 0.2, 0.3, 0.5])
def test_a_cut_takes_what_is_spare_and_what_the_rod_surely_lifts(doubt_mm_per_turn: float):
    """Derived: at most the spare 0.12 mm and a turn's 0.4 mm less its doubt. It wants 0.22 mm to lie at ease."""
    turns, cut_mm = settle(_problem(doubt_mm_per_turn)).amounts
    surely_mm = SPARE_MM + max(0.4 - doubt_mm_per_turn, 0.0) * turns
    assert turns >= 0.375 - 1e-9  # what brings the neck inside its 0.05 mm
    assert -cut_mm == pytest.approx(min(surely_mm, 0.22), abs=0.01)


def test_the_less_a_rod_is_known_the_less_is_cut():
    cut_mm = [-settle(_problem(doubt)).amounts[1] for doubt in (0.1, 0.2, 0.3, 0.4)]
    assert cut_mm == sorted(cut_mm, reverse=True)
    assert cut_mm[0] > cut_mm[-1] + 0.05
