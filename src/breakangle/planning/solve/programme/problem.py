"""A plan as numbers: targets, levers, what each does to each, in the solver's own scale."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.kinds.kind import Lever
from breakangle.planning.solve.margins import Edges

Array = NDArray[np.float64]

# Where nothing else is said below: chosen; no source; `python -m bench closed_loop` tells what it costs.
MOVEMENT_WEIGHT, NEGLIGIBLE = 0.02, 1e-3
TO_SPARE = 3.0  # tolerances


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


def units(levers: Sequence[Lever]) -> Array:
    """Return the unit each lever is counted in: its step where it has one, so that steps are whole numbers."""
    return np.array([lever.step or lever.typical for lever in levers])


def inverse(travel: Array) -> Array:
    """Return 1/travel, and 0 for a lever that has none that way (its bound already says so)."""
    return np.divide(1.0, travel, out=np.zeros_like(travel), where=travel > 0)


@dataclass(frozen=True)
class Scaled:
    """A problem in steps or typical moves of each lever, and in tolerances of each target."""

    per_unit: Array
    doubt: Array
    off: Array
    low: Array
    high: Array
    move: Array


def within_need(scaled: Scaled, problem: Problem) -> Scaled:
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


def scaled_of(problem: Problem) -> Scaled:
    """Return the problem in the solver's own scale."""
    levers, unit = problem.levers, units(problem.levers)
    per_unit = problem.per_unit * unit / problem.tolerance[:, None]
    return Scaled(
        # Effects under a thousandth of a tolerance only make the programme ill-conditioned.
        per_unit=np.where(np.abs(per_unit) < NEGLIGIBLE, 0.0, per_unit),
        doubt=problem.doubt * unit / problem.tolerance[:, None],
        off=problem.off / problem.tolerance,
        low=np.array([lever.low for lever in levers]) / unit,
        high=np.array([lever.high for lever in levers]) / unit,
        move=MOVEMENT_WEIGHT * unit / np.array([lever.typical for lever in levers]),
    )
