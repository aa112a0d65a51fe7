"""Which adjusters, by how much: a mixed-integer linear programme over the state's linear effects.

First the fewest adjusters that bring every target inside its tolerance (a cut costs more than a screw), then,
with those alone, amounts that leave each target as far inside as its uncertainty asks, with the least movement.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.kinds import Lever

Array = NDArray[np.float64]

OUTSIDE_WEIGHT = 60.0  # per tolerance outside: a fiftieth of a tolerance is not worth another adjuster
UNEASY_WEIGHT = 0.08  # per tolerance too near the edge, while adjusters are chosen
MOVEMENT_WEIGHT = 0.02
GUARD_SPREADS = 0.8  # a target nearer its edge than this many spreads is not counted on
EASY_SPREADS = 2.5
LEAST_SHARE = 0.35  # of the tolerance that always remains usable


@dataclass(frozen=True)
class Problem:
    """Targets and levers in numbers: off (T,), per unit of each lever (T, J), tolerance and spread (T,)."""

    levers: tuple[Lever, ...]
    off: Array
    per_unit: Array
    tolerance: Array
    spread: Array


@dataclass(frozen=True)
class Answer:
    """Amounts per lever (J,), and how far each target stays outside its tolerance (T,)."""

    amounts: Array
    outside: Array


def _column_scale(levers: Sequence[Lever]) -> Array:
    """Return the unit each lever is counted in: its step where it has one, so that steps are integers."""
    return np.array([lever.step or 1.0 for lever in levers])


def _solve(problem: Problem, costs: Array, edge: Array, ease: Array, uneasy_weight: float) -> Answer:
    """Minimise cost of touched levers + outside + uneasy + movement.

    Variables, in order: up (J), down (J), touched (J), outside (T), uneasy (T).
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    levers, count, wants = problem.levers, len(problem.levers), len(problem.off)
    unit = _column_scale(levers)
    per_unit = problem.per_unit * unit
    low = np.array([lever.low for lever in levers]) / unit
    high = np.array([lever.high for lever in levers]) / unit
    typical = np.array([lever.typical for lever in levers]) / unit
    move = MOVEMENT_WEIGHT / typical
    objective = np.concatenate(
        [move, move, costs, OUTSIDE_WEIGHT / problem.tolerance, uneasy_weight / problem.tolerance]
    )
    none = np.zeros((wants, count))
    eye, zero = np.eye(wants), np.zeros((wants, wants))
    rows = np.vstack(
        [
            np.hstack([per_unit, -per_unit, none, -eye, zero]),
            np.hstack([-per_unit, per_unit, none, -eye, zero]),
            np.hstack([per_unit, -per_unit, none, zero, -eye]),
            np.hstack([-per_unit, per_unit, none, zero, -eye]),
            np.hstack([np.eye(count), np.zeros((count, count)), -np.diag(high), none.T, none.T]),
            np.hstack([np.zeros((count, count)), np.eye(count), np.diag(low), none.T, none.T]),
        ]
    )
    most = np.concatenate(
        [
            edge - problem.off,
            edge + problem.off,
            ease - problem.off,
            ease + problem.off,
            np.zeros(2 * count),
        ]
    )
    whole = np.array([1 if lever.step else 0 for lever in levers])
    result = milp(
        objective,
        constraints=LinearConstraint(rows, -np.inf, most),
        bounds=Bounds(
            np.zeros(len(objective)),
            np.concatenate([high, -low, np.ones(count), np.full(2 * wants, np.inf)]),
        ),
        integrality=np.concatenate([whole, whole, np.ones(count), np.zeros(2 * wants)]),
    )
    amounts = (result.x[:count] - result.x[count : 2 * count]) * unit
    off = problem.off + problem.per_unit @ amounts
    return Answer(amounts, np.maximum(np.abs(off) - problem.tolerance, 0.0))


def guarded(problem: Problem) -> Array:
    """Return the tolerances, narrowed by what is not known."""
    return np.maximum(
        problem.tolerance - GUARD_SPREADS * problem.spread, LEAST_SHARE * problem.tolerance
    )


def choose(problem: Problem, costs: Array) -> Answer:
    """Return the answer that touches the fewest adjusters."""
    ease = np.maximum(problem.tolerance - EASY_SPREADS * problem.spread, 0.0)
    return _solve(problem, costs, guarded(problem), ease, UNEASY_WEIGHT)


def settle(problem: Problem) -> Answer:
    """Return amounts for a problem whose levers are all to be used: well inside, then least movement."""
    ease = np.maximum(problem.tolerance - EASY_SPREADS * problem.spread, 0.0)
    return _solve(problem, np.zeros(len(problem.levers)), guarded(problem), ease, 1.0)
