"""What no adjuster can put right: which targets stay outside, and what stands in the way."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.model.service import Service
from breakangle.planning.estimate.target_state import Sight, place_read
from breakangle.planning.kinds.adjustments.rod import MOST_TURNS
from breakangle.planning.kinds.targets.gap import is_relief
from breakangle.planning.solve.margins import MOST_HELD
from breakangle.planning.solve.programme.problem import Problem

Array = NDArray[np.float64]
# Common practice, no source.
OUTSIDE_SHARE = 0.15  # of a tolerance: what work leaves outside by less is the hand's, not beyond a set-up


@dataclass(frozen=True)
class Unreached:
    """A target (by its place) that stays outside; `in_the_way`: the one that moving further would put out.

    `at_end`: its own adjusters have no travel left that would help, or it has none. `far_ratio`: how far outside it
    stays, in tolerances from what is wanted, with the sign; None where no move was reckoned that would tell.
    `spread_ratio`: how well that is known, in tolerances, where nothing is moved before: the hand has no share in it.
    """

    target: int
    in_the_way: int | None
    at_end: bool = True
    far_ratio: float | None = None
    spread_ratio: float | None = None

    def past_edge(self, tolerance: float = 1.0) -> bool:
        """Return whether it stays so far outside that no set-up reaches it; `tolerance`: of what it is measured in."""
        share = OUTSIDE_SHARE * tolerance
        if self.at_end and self.spread_ratio is not None:
            share = min(share, self.spread_ratio)
        return self.far_ratio is None or abs(self.far_ratio) > tolerance + share + 1e-9


def unreached(problem: Problem, amounts: Array, final: Array, sight: Sight) -> tuple[Unreached, ...]:
    """Return the targets that stay outside, each with the target that stands in its way, if one does.

    What a lever serves that is only roughly known is not among them while that is turned and has travel left: as far
    as can be trusted, then read, and turned on.
    """
    places = np.flatnonzero(sight.judged)
    outside = np.abs(final) > problem.tolerance
    moved, found = bool(np.any(amounts)), []
    spread_ratio = sight.spread[places] / problem.tolerance
    for index in np.flatnonzero(outside).tolist():
        if _goes_on(problem, amounts, index):
            continue
        best = _own_travel(problem, amounts, final, index)
        blocking = None if best is None else _in_the_way(problem, amounts, final, index, best)
        if (
            best is not None
            and _is_turned(problem, amounts, best)
            and not _serves_both(problem, best, blocking)
        ):
            continue
        way = None if blocking is None else int(places[blocking])
        far = float(final[index] / problem.tolerance[index])
        one = Unreached(
            int(places[index]), way, best is None, far, None if moved else float(spread_ratio[index])
        )
        found += [one] if one.past_edge() else []
    return tuple(found)


def _goes_on(problem: Problem, amounts: Array, index: int) -> bool:
    """Return whether the target's own rod is turned here as far as one plan turns it, and is not at its stop."""
    return any(
        lever.doubtful and own and abs(amount) >= MOST_TURNS - 1e-9
        for lever, own, amount in zip(problem.levers, problem.edges.own[index], amounts, strict=True)
    )


def _is_turned(problem: Problem, amounts: Array, lever: int) -> bool:
    return problem.levers[lever].doubtful and bool(amounts[lever])


def _serves_both(problem: Problem, lever: int, target: int | None) -> bool:
    return target is not None and bool(problem.edges.own[target, lever])


def _rooms(problem: Problem, amounts: Array, way: Array) -> Array:
    """Return the travel that each lever has left in its `way` (+1, -1; (..., J)), in its own unit, same shape."""
    high = np.array([lever.high for lever in problem.levers])
    low = np.array([lever.low for lever in problem.levers])
    return np.where(way > 0.0, high - amounts, amounts - low)


def _own_travel(problem: Problem, amounts: Array, final: Array, index: int) -> int | None:
    """Return which of the target's own levers could still move it most; None if none could move it much."""
    slope = problem.per_unit[index]
    room = _rooms(problem, amounts, -np.sign(final[index] * slope))
    steps = np.array([lever.step for lever in problem.levers])
    gain = np.where(problem.edges.own[index] & (room >= steps), np.abs(slope) * room, 0.0)
    best = int(np.argmax(gain))
    return best if gain[best] >= 0.5 * problem.tolerance[index] else None


def _in_the_way(problem: Problem, amounts: Array, final: Array, index: int, best: int) -> int | None:
    """Return the target that more of the lever `best` would put out; first one that no other of its own answers for.

    One that others could answer for is in the way too where they serve many at once, as a bridge on two posts does.
    """
    moved = final - problem.per_unit[:, best] * final[index] / problem.per_unit[index, best]
    room = _rooms(problem, amounts, -np.sign(moved[:, None] * problem.per_unit))
    others = problem.edges.own & (np.arange(len(amounts)) != best)
    answer = np.max(np.where(others, np.abs(problem.per_unit) * room, 0.0), axis=1)
    shared = others & (others.sum(axis=0) > MOST_HELD)
    for left in (answer, np.where(shared.any(axis=1), 0.0, answer)):
        hurt = (np.abs(moved) - left - problem.tolerance) / problem.tolerance
        hurt[np.abs(moved) <= np.abs(final)] = -1.0
        worst = int(np.argmax(hurt))
        if hurt[worst] > 0.0:
            return worst
    return None


def all_outside(sight: Sight, known: Sequence[Unreached]) -> tuple[Unreached, ...]:
    """Return all that is outside, where nothing can be moved; not again what is known to be."""
    told = {one.target for one in known}
    return tuple(
        Unreached(index, None)
        for index in np.flatnonzero(sight.judged & ~sight.inside).tolist()
        if index not in told
    )


def slots_too_deep(service: Service, sight: Sight) -> list[int]:
    """Return the targets of slots that have just read nothing where something is wanted: no figure tells how much.

    None while the neck is bent back, which takes the gaps at the nut with it: that is mended first; nor where nothing
    was read but once, and is not known: it is read again first.
    """
    if any(_bent_back(sight, index) for index in range(len(sight.targets))):
        return []
    nothing = {
        place_read(one)
        for one in service.readings
        if one.after == len(service.work) and one.quantity == "gap" and getattr(one, "mm", 1.0) <= 0.0
    }
    return [
        index
        for index, target in enumerate(sight.targets)
        if sight.places[index] in nothing
        and sight.judged[index]
        and 0 < target.fret < min(getattr(target, "held", ()), default=0)
        and sight.value[index] - sight.off[index] >= sight.tolerance[index] - 1e-9
    ]


def _bent_back(sight: Sight, index: int) -> bool:
    bent = bool(sight.judged[index] and sight.off[index] < -sight.tolerance[index])
    return bent and is_relief(sight.targets[index])
