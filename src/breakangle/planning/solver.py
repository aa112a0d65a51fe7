"""Which adjusters, by how much: a mixed-integer linear programme over the state's linear effects.

First the fewest adjusters that bring every target inside its tolerance (a cut costs more than a screw), then,
with those alone, amounts that leave each target as far inside as its uncertainty asks, with the least movement.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.model.errors import BreakangleError
from breakangle.planning.kinds import Lever

Array = NDArray[np.float64]

OUTSIDE_WEIGHT = 60.0  # per tolerance outside: a fiftieth of a tolerance is not worth another adjuster
EASE_WEIGHT = 1.0  # per tolerance too near the edge
DOUBT_WEIGHT = 2.0  # per tolerance that may come out because an adjuster is not well known
MOVEMENT_WEIGHT = 0.02
NEGLIGIBLE = 1e-3
FLOOR_MM = 0.05  # what lacks this much of a floor is as far out as a target by its tolerance
DOUBT_SPREADS = 1.0  # an adjuster is not counted on for more than it surely does
EASY_SPREADS = 2.5
LEAST_SHARE = 0.35  # of the tolerance that always remains usable


class SolverError(BreakangleError):
    """The solver gave up: nothing the person did; the file is worth keeping as an example."""


@dataclass(frozen=True)
class Floors:
    """What must not sink lower: what each lacks now (M,), negative with some to spare; gains per unit (M, J)."""

    lack: Array
    per_unit: Array


@dataclass(frozen=True)
class Problem:
    """Targets and levers in numbers: off (T,), per unit of each lever (T, J), tolerance and spread (T,).

    `floors` are one-sided. `doubt` (T, J) is the spread that a unit of each lever adds to each target; `keep`
    (T,) how much more it weighs to put this one out than to leave another out.
    """

    levers: tuple[Lever, ...]
    off: Array
    per_unit: Array
    tolerance: Array
    spread: Array
    doubt: Array
    keep: Array
    floors: "Floors"

    def only(self, levers: NDArray[np.intp]) -> "Problem":
        """Return the same problem with only these levers."""
        return Problem(
            tuple(self.levers[index] for index in levers),
            self.off,
            self.per_unit[:, levers],
            self.tolerance,
            self.spread,
            self.doubt[:, levers],
            self.keep,
            Floors(self.floors.lack, self.floors.per_unit[:, levers]),
        )


@dataclass(frozen=True)
class Answer:
    """Amounts per lever (J,), and how far each target stays outside its tolerance (T,)."""

    amounts: Array
    outside: Array


def _units(levers: Sequence[Lever]) -> Array:
    """Return the unit each lever is counted in: its step where it has one, so that steps are whole numbers."""
    return np.array([lever.step or lever.typical for lever in levers])


def _inverse(travel: Array) -> Array:
    """Return 1/travel, and 0 for a lever that has none that way (its bound already says so)."""
    return np.divide(1.0, travel, out=np.zeros_like(travel), where=travel > 0)


@dataclass(frozen=True)
class _Scaled:
    """A problem in steps or typical moves of each lever, and in tolerances of each target."""

    per_unit: Array
    doubt: Array
    off: Array
    low: Array
    high: Array
    move: Array


def _scaled(problem: Problem) -> _Scaled:
    levers, unit = problem.levers, _units(problem.levers)
    per_unit = problem.per_unit * unit / problem.tolerance[:, None]
    return _Scaled(
        # Effects under a thousandth of a tolerance only make the programme ill-conditioned.
        per_unit=np.where(np.abs(per_unit) < NEGLIGIBLE, 0.0, per_unit),
        doubt=problem.doubt * unit / problem.tolerance[:, None],
        off=problem.off / problem.tolerance,
        low=np.array([lever.low for lever in levers]) / unit,
        high=np.array([lever.high for lever in levers]) / unit,
        move=MOVEMENT_WEIGHT * unit / np.array([lever.typical for lever in levers]),
    )


def _rows(
    scaled: _Scaled, edge: Array, ease: Array, margin_spreads: float, touching: bool
) -> tuple[Array, Array]:
    """Return the constraints, rows · x ≤ most: each band from both sides, then moved only if touched.

    Variables as in `_solve`. With a margin, the second band is only for what a doubtful lever can reach.
    """
    wants, count = scaled.per_unit.shape
    kept = margin_spreads * scaled.doubt
    doubtful = (kept > NEGLIGIBLE).any(axis=1) if margin_spreads else np.ones(wants, dtype=bool)
    rows, most = [], []
    for place, (band, margin, which) in enumerate(((edge, 0.0 * kept, slice(None)), (ease, kept, doubtful))):
        slack = np.zeros((wants, 2 * wants))
        slack[:, place * wants : (place + 1) * wants] = -np.eye(wants)
        for sign in (1.0, -1.0):
            up, down = sign * scaled.per_unit + margin, -sign * scaled.per_unit + margin
            rows.append(np.hstack([up, down, np.zeros((wants, count)), slack])[which])
            most.append((band - sign * scaled.off)[which])
    if touching:
        eye, none, blank = np.eye(count), np.zeros((count, count)), np.zeros((count, 2 * wants))
        rows.append(np.hstack([np.diag(_inverse(scaled.high)), none, -eye, blank]))
        rows.append(np.hstack([none, np.diag(_inverse(-scaled.low)), -eye, blank]))
        most.append(np.zeros(2 * count))
    return np.vstack(rows), np.concatenate(most)


def _with_floors(problem: Problem, rows: Array, most: Array) -> tuple[Array, Array]:
    """Return the constraints with the floors' own below them, each with a slack of its own, in FLOOR_MM."""
    floors, count = problem.floors, len(problem.levers)
    if not len(floors.lack):
        return rows, most
    gain = floors.per_unit * _units(problem.levers) / FLOOR_MM
    gain = np.where(np.abs(gain) < NEGLIGIBLE, 0.0, gain)
    blank = np.zeros((len(floors.lack), rows.shape[1] - 2 * count))
    below = np.hstack([-gain, gain, blank, -np.eye(len(floors.lack))])
    wide = np.hstack([rows, np.zeros((len(rows), len(floors.lack)))])
    return np.vstack([wide, below]), np.concatenate([most, -floors.lack / FLOOR_MM])


def _solve(
    problem: Problem,
    costs: Array | None,
    edge: Array,
    ease: Array,
    uneasy_weight: float,
    margin_spreads: float = 0.0,
) -> Answer:
    """Minimise cost of touched levers + outside the edge + uneasy outside the ease + movement.

    Variables, in order: up (J), down (J), touched (J), outside (T), uneasy (T), below a floor (M). Bands are in
    tolerances. Without `costs` every lever is there to be used.

    Raises:
        SolverError: the solver gave up, which no set of readings should bring about.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    scaled = _scaled(problem)
    wants, count, floors = *scaled.per_unit.shape, len(problem.floors.lack)
    rows, most = _with_floors(problem, *_rows(scaled, edge, ease, margin_spreads, touching=costs is not None))
    farthest = np.abs(scaled.off) + np.abs(scaled.per_unit) @ np.maximum(scaled.high, -scaled.low) + 9.0
    whole = np.array([1 if lever.step else 0 for lever in problem.levers])
    touched = np.full(count, costs is not None)
    price = np.zeros(count) if costs is None else costs
    outside, below = OUTSIDE_WEIGHT * problem.keep, np.full(floors, OUTSIDE_WEIGHT)
    uneasy = np.full(wants, uneasy_weight)
    far_below = np.full(floors, 1e3)
    result = milp(
        np.concatenate([scaled.move, scaled.move, price, outside, uneasy, below]),
        constraints=LinearConstraint(rows, -np.inf, most),
        bounds=Bounds(
            np.zeros(rows.shape[1]),
            np.concatenate([scaled.high, -scaled.low, np.ones(count), farthest, farthest, far_below]),
        ),
        integrality=np.concatenate([whole, whole, touched, np.zeros(2 * wants + floors)]),
    )
    if result.x is None:
        raise SolverError(f"the solver found no plan ({result.message})")
    amounts = (result.x[:count] - result.x[count : 2 * count]) * _units(problem.levers)
    left = problem.off + problem.per_unit @ amounts
    return Answer(amounts, np.maximum(np.abs(left) - problem.tolerance, 0.0))


def narrowed(tolerance: Array, spread: Array, spreads: float) -> Array:
    """Return the tolerances less `spreads` times what is not known, never less than LEAST_SHARE of them."""
    return np.asarray(np.maximum(tolerance - spreads * spread, LEAST_SHARE * tolerance))


def choose(problem: Problem, costs: Array, margin_spreads: float) -> Answer:
    """Return the answer that touches the fewest adjusters, with tolerances narrowed by `margin_spreads`."""
    edge = narrowed(problem.tolerance, problem.spread, margin_spreads) / problem.tolerance
    return _solve(problem, costs, edge, edge, DOUBT_WEIGHT, DOUBT_SPREADS)


def settle(problem: Problem, margin_spreads: float) -> Answer:
    """Return amounts for a problem whose levers are all to be used: well inside, then least movement."""
    edge = narrowed(problem.tolerance, problem.spread, margin_spreads) / problem.tolerance
    ease = np.maximum(1.0 - EASY_SPREADS * problem.spread / problem.tolerance, 0.0)
    return _solve(problem, None, edge, ease, EASE_WEIGHT)
