"""Which adjusters, by how much: a mixed-integer linear programme over the state's linear effects.

First the fewest adjusters that bring every target inside its tolerance (a cut costs more than a screw), then,
with those alone, amounts that leave each target as far inside as its uncertainty asks, with the least movement.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from breakangle.model.errors import BreakangleError
from breakangle.planning.kinds import Lever
from breakangle.planning.margins import Edges, only_cut

Array = NDArray[np.float64]

OUTSIDE_WEIGHT = 60.0  # per tolerance outside: a fiftieth of a tolerance is not worth another adjuster
EASE_WEIGHT = 1.0  # per tolerance too near the edge
DOUBT_WEIGHT = 2.0  # per tolerance that may come out because an adjuster is not well known
MOVEMENT_WEIGHT = 0.02
NEGLIGIBLE = 1e-3
TO_SPARE = 3.0  # tolerances
FLOOR_MM = 0.05  # what lacks this much of a floor is as far out as a target by its tolerance
DOUBT_SPREADS = 1.0  # an adjuster is not counted on for more than it surely does
EASY_SPREADS = 3.5  # what is moved at all is moved well inside: it keeps for the next visit


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

    `edges` say how far off a target may be, nearer once one of its own levers is moved. `floors` are one-sided.
    `doubt` (T, J) is the spread that a unit of each lever adds to each target; `keep` (T,) how much more it weighs
    to put this one out than to leave another out.
    """

    levers: tuple[Lever, ...]
    off: Array
    per_unit: Array
    tolerance: Array
    spread: Array
    doubt: Array
    keep: Array
    edges: Edges
    floors: Floors

    def of(self, targets: NDArray[np.bool_]) -> "Problem":
        """Return the same problem with only these targets."""
        at = targets
        return replace(
            self, off=self.off[at], per_unit=self.per_unit[at], tolerance=self.tolerance[at], spread=self.spread[at],
            doubt=self.doubt[at], keep=self.keep[at], edges=self.edges.of(at),
        )  # fmt: skip

    def only(self, levers: NDArray[np.intp]) -> "Problem":
        """Return the same problem with only these levers."""
        return replace(
            self, levers=tuple(self.levers[index] for index in levers), per_unit=self.per_unit[:, levers],
            doubt=self.doubt[:, levers], edges=self.edges.only(levers),
            floors=Floors(self.floors.lack, self.floors.per_unit[:, levers]),
        )  # fmt: skip


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


def _within_need(scaled: _Scaled, problem: Problem) -> _Scaled:
    """Return the same with no lever going farther than its own targets can ask for.

    Near bounds on what a touched lever may do leave the solver fewer cases to look at. What a lever's targets ask for
    is how far they are off, with what levers that are only roughly known may still put them off, and `TO_SPARE`.
    """
    effect = np.where(problem.edges.own, np.abs(scaled.per_unit), 0.0)
    off, travel = np.abs(scaled.off), np.maximum(scaled.high, -scaled.low)
    first = np.array([lever.doubtful for lever in problem.levers], dtype=bool)
    for which in (first, ~first):
        asked = np.divide(off[:, None] + TO_SPARE, effect, out=np.zeros_like(effect), where=effect > 0.0)
        need = np.where(effect.any(axis=0), np.ceil(asked.max(axis=0, initial=0.0)), travel)
        travel = np.where(which, np.minimum(need, travel), travel)
        off = np.abs(scaled.off) + np.abs(scaled.per_unit[:, first]) @ travel[first]
    return replace(scaled, low=np.maximum(scaled.low, -travel), high=np.minimum(scaled.high, travel))


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


def _band(scaled: _Scaled, edge: tuple[Array, Array], slack: Array, margin: Array) -> tuple[Array, Array]:
    """Return the constraints that keep every target inside `edge` (above, below), with its slack (T, 2T).

    `margin` (T, J) is what each unit of a lever takes off the edge.
    """
    blank = np.zeros_like(margin)
    rows = [
        np.hstack([sign * scaled.per_unit + margin, -sign * scaled.per_unit + margin, blank, slack])
        for sign in (1.0, -1.0)
    ]
    return np.vstack(rows), np.concatenate([edge[0] - scaled.off, edge[1] + scaled.off])


def _rows(
    scaled: _Scaled, edge: tuple[Array, Array], ease: Array, margin_spreads: float
) -> tuple[Array, Array]:
    """Return the constraints, rows · x ≤ most: each band from both sides. Variables as in `_solve`.

    With a margin, the second band is only for what a doubtful lever can reach.
    """
    wants = len(ease)
    slack, none = -np.eye(wants), np.zeros((wants, wants))
    kept = margin_spreads * scaled.doubt
    outside, most_outside = _band(scaled, edge, np.hstack([slack, none]), 0.0 * kept)
    uneasy, most_uneasy = _band(scaled, (ease, ease), np.hstack([none, slack]), kept)
    doubtful = (kept > NEGLIGIBLE).any(axis=1) if margin_spreads else np.ones(wants, dtype=bool)
    which = np.tile(doubtful, 2)
    return np.vstack([outside, uneasy[which]]), np.concatenate([most_outside, most_uneasy[which]])


def _cut(problem: Problem) -> NDArray[np.bool_]:
    """Return which targets each lever holds that can only cut, (T, J)."""
    return np.asarray(problem.edges.held & only_cut(problem.levers))


def _closer_if_cut(rows: Array, most: Array, problem: Problem) -> tuple[Array, Array]:
    """Return the constraints of the first band, brought closer for each of the target's own cuts that is made.

    Amounts for all other levers are settled with their closer edge afterwards. The new rows imply the plain ones,
    which they replace.
    """
    edges, count = problem.edges, len(problem.levers)
    closer = np.concatenate([edges.left - edges.moved, edges.left - edges.deep]) / np.tile(
        problem.tolerance, 2
    )
    own = np.tile(_cut(problem), (2, 1)) & (closer > NEGLIGIBLE)[:, None]
    row, lever = np.nonzero(own)
    tied = rows[row]
    tied[np.arange(len(row)), 2 * count + lever] = closer[row]
    plain = np.ones(len(rows), dtype=bool)
    plain[: len(own)] = ~own.any(axis=1)
    return np.vstack([rows[plain], tied]), np.concatenate([most[plain], most[row]])


def _no_deeper(problem: Problem, scaled: _Scaled, wide: int) -> tuple[Array, Array]:
    """Return the constraints, without slack, that cuts take nothing they serve below its lower edge.

    What is below it already is cut no further: nothing puts it back. Of the rest, what the rod surely lifts may be cut.
    """
    only_down = only_cut(problem.levers)
    served = (problem.edges.own & only_down).any(axis=1)
    first = np.array([lever.doubtful for lever in problem.levers], dtype=bool)
    effect, doubt = scaled.per_unit[served], scaled.doubt[served]
    spare = scaled.off[served] + problem.edges.deep[served] / problem.tolerance[served]
    rows, count = np.zeros((len(effect), wide)), len(problem.levers)
    for sign, at in ((1.0, 0), (-1.0, count)):
        lifted = np.where(first & (spare > 0.0)[:, None], sign * effect - DOUBT_SPREADS * doubt, 0.0)
        rows[:, at : at + count] = np.where(only_down, -sign * effect, -np.maximum(lifted, 0.0))
    return rows, np.maximum(spare, 0.0)


def _only_if_touched(scaled: _Scaled) -> tuple[Array, Array]:
    """Return the constraints that let a lever move only if it is touched."""
    wants, count = scaled.per_unit.shape
    eye, none, blank = np.eye(count), np.zeros((count, count)), np.zeros((count, 2 * wants))
    up = np.hstack([np.diag(_inverse(scaled.high)), none, -eye, blank])
    down = np.hstack([none, np.diag(_inverse(-scaled.low)), -eye, blank])
    return np.vstack([up, down]), np.zeros(2 * count)


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


def _constraints(
    problem: Problem, scaled: _Scaled, bands: tuple[Array, Array], choosing: bool
) -> tuple[Array, Array]:
    """Return every constraint, rows · x ≤ most: the bands, what a touched lever brings with it, cuts, floors."""
    rows, most = bands
    if choosing:
        rows, most = _closer_if_cut(rows, most, problem)
        touching, most_touching = _only_if_touched(scaled)
        rows, most = np.vstack([rows, touching]), np.concatenate([most, most_touching])
    no_deeper, most_deep = _no_deeper(problem, scaled, rows.shape[1])
    return _with_floors(problem, np.vstack([rows, no_deeper]), np.concatenate([most, most_deep]))


def _solve(
    problem: Problem,
    costs: Array | None,
    edge: tuple[Array, Array],
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

    scaled = _within_need(_scaled(problem), problem)
    wants, count, floors = *scaled.per_unit.shape, len(problem.floors.lack)
    rows, most = _constraints(problem, scaled, _rows(scaled, edge, ease, margin_spreads), costs is not None)
    farthest = np.abs(scaled.off) + np.abs(scaled.per_unit) @ np.maximum(scaled.high, -scaled.low) + 9.0
    whole = np.array([1 if lever.step else 0 for lever in problem.levers])
    touched, price = np.full(count, costs is not None), np.zeros(count) if costs is None else costs
    outside, below = OUTSIDE_WEIGHT * problem.keep, np.full(floors, OUTSIDE_WEIGHT)
    uneasy, far_below = np.full(wants, uneasy_weight), np.full(floors, 1e3)
    result = milp(
        np.concatenate([scaled.move, scaled.move, price, outside, uneasy, below]),
        constraints=LinearConstraint(rows, -np.inf, most),
        bounds=Bounds(
            np.zeros(rows.shape[1]),
            np.concatenate([scaled.high, -scaled.low, np.ones(count), farthest, farthest, far_below]),
        ),
        integrality=np.concatenate([whole, whole, touched, np.zeros(2 * wants + floors)]),
        options={"presolve": False},  # a sixth less time for so small a programme
    )
    if result.x is None:
        raise SolverError(f"the solver found no plan ({result.message})")
    amounts = (result.x[:count] - result.x[count : 2 * count]) * _units(problem.levers)
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
    below = np.where(_cut(problem).any(axis=1), edges.deep / problem.tolerance, above)
    ease = np.maximum(1.0 - EASY_SPREADS * problem.spread / problem.tolerance, 0.0)
    return _solve(problem, None, (above, below), ease, EASE_WEIGHT)
