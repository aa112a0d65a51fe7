"""Which adjusters, by how much: a mixed-integer linear programme over the state's linear effects.

First the fewest adjusters that bring every target inside its tolerance (a cut costs more than a screw), then,
with those alone, amounts that leave each target as far inside as its uncertainty asks, with the least movement.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.model.errors import BreakangleError
from breakangle.model.words.speech import tr
from breakangle.planning.solve.programme.constraints import DOUBT_SPREADS, constraints, cut, one_way, rows_of
from breakangle.planning.solve.programme.problem import Problem, scaled_of, units, within_need

Array = NDArray[np.float64]

# Where nothing else is said below: chosen; no source; `python -m bench closed_loop` tells what it costs.
OUTSIDE_WEIGHT = 60.0  # per tolerance outside: a fiftieth of a tolerance is not worth another adjuster
EASE_WEIGHT = 1.0  # per tolerance too near the edge
DOUBT_WEIGHT = 2.0  # per tolerance that may come out because an adjuster is not well known
EASY_SPREADS = 3.5  # what is moved at all is moved well inside: it keeps for the next visit


class SolverError(BreakangleError):
    """The solver gave up: nothing the person did; the file is worth keeping as an example."""


@dataclass(frozen=True)
class Answer:
    """Amounts per lever (J,), and how far each target stays outside its tolerance (T,)."""

    amounts: Array
    outside: Array


def _solve(
    problem: Problem,
    costs: Array | None,
    edge: tuple[Array, Array],
    ease: Array,
    uneasy_weight: float,
    margin_spreads: float = 0.0,
) -> Answer:
    """Minimise cost of touched levers + outside the edge + uneasy outside the ease + movement.

    Variables, in order: up (J), down (J), touched (J), outside (T), uneasy (T), below a floor (M), up rather
    than down (D). Bands are in tolerances. Without `costs` every lever is there to be used.

    Raises:
        SolverError: the solver gave up, which no set of readings should bring about.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    scaled = within_need(scaled_of(problem), problem)
    wants, count, floors = *scaled.per_unit.shape, len(problem.floors.lack)
    rows, most = constraints(problem, scaled, rows_of(scaled, edge, ease, margin_spreads), costs is not None)
    turns, most_turns = one_way(problem, scaled, rows.shape[1])
    ways = turns.shape[1] - rows.shape[1]
    rows, most = np.vstack([np.pad(rows, ((0, 0), (0, ways))), turns]), np.concatenate([most, most_turns])
    farthest = np.abs(scaled.off) + np.abs(scaled.per_unit) @ np.maximum(scaled.high, -scaled.low) + 9.0
    whole = np.array([1 if lever.step else 0 for lever in problem.levers])
    touched, price = np.full(count, costs is not None), np.zeros(count) if costs is None else costs
    outside, below = OUTSIDE_WEIGHT * problem.keep, np.full(floors, OUTSIDE_WEIGHT)
    uneasy, far_below = np.full(wants, uneasy_weight), np.full(floors, 1e3)
    result = milp(
        np.concatenate([scaled.move, scaled.move, price, outside, uneasy, below, np.zeros(ways)]),
        constraints=LinearConstraint(rows, -np.inf, most),
        bounds=Bounds(
            np.zeros(rows.shape[1]),
            np.concatenate(
                [scaled.high, -scaled.low, np.ones(count), farthest, farthest, far_below, np.ones(ways)]
            ),
        ),
        integrality=np.concatenate([whole, whole, touched, np.zeros(2 * wants + floors), np.ones(ways)]),
        options={"presolve": False},  # a sixth less time for so small a programme
    )
    if result.x is None:
        raise SolverError(tr("the solver found no plan ({message})", message=result.message))
    amounts = (result.x[:count] - result.x[count : 2 * count]) * units(problem.levers)
    left = problem.off + problem.per_unit @ amounts
    return Answer(amounts, np.maximum(np.abs(left) - problem.tolerance, 0.0))


def choose(problem: Problem, costs: Array) -> Answer:
    """Return the answer that touches the fewest adjusters, each target inside its edge."""
    edge = problem.edges.left / problem.tolerance
    return _solve(problem, costs, (edge, edge), edge, DOUBT_WEIGHT, DOUBT_SPREADS)


def settle(problem: Problem) -> Answer:
    """Return amounts for a problem whose levers are all to be used: well inside, then least movement."""
    edges = problem.edges
    above = np.where(edges.held.any(axis=1), edges.moved, edges.left) / problem.tolerance
    below = np.where(cut(problem).any(axis=1), edges.deep / problem.tolerance, above)
    ease = np.maximum(1.0 - EASY_SPREADS * problem.spread / problem.tolerance, 0.0)
    return _solve(problem, None, (above, below), ease, EASE_WEIGHT)
